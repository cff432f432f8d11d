/*
 * bittern_float64.h: the loudspeaker filters of "bittern" in double precision
 *
 * Bittern, a closed-box four-way for dubbing rooms (invented)
 * Revision C1
 * Spec SHA-256 b652ed64a3186ead499ef684655be9b732c246a45975e38af6a82f60bc9a1284
 *
 * WHAT IT DOES
 * One input channel becomes 4 ways. Every input sample passes the common filters once;
 * each way then waits for its delay, applies its gain with its polarity and its own filters:
 *
 *   out[BITTERN_WAY_SUB]: sub, -6 dB, normal polarity, sections: 6
 *   out[BITTERN_WAY_BASS]: bass, -3 dB, normal polarity, sections: 8, samples of delay: 6 at
 *     48000 Hz, 12 at 96000 Hz
 *   out[BITTERN_WAY_MID]: mid, -2 dB, normal polarity, sections: 10, samples of delay: 9 at
 *     48000 Hz, 17 at 96000 Hz
 *   out[BITTERN_WAY_TREBLE]: treble, -7 dB, normal polarity, sections: 8, samples of delay:
 *     10 at 48000 Hz, 19 at 96000 Hz
 *
 * Each filter is a section of first or second order that computes, in this order and with
 * every product and sum rounded separately,
 *
 *   direct form
 *     y = b0*x + p
 *     p = (q + b1*x) - a1*y
 *     q = b2*x - a2*y
 *
 * The feedback a1, a2 is SUBTRACTED.
 * with H = (b0 + b1*t + b2*t^2) / (1 + a1*t + a2*t^2), t = 1/z in the direct form, t = 1/(z -
 * 1) in the delta form, which keeps low corners accurate at short word lengths. Do not edit
 * this file: change the spec instead.
 *
 * HOW TO USE IT
 * Compile bittern_float64.c with your program, and include this header where it is used.
 *
 *   static bittern_state filters;         all the memory that is used
 *   bittern_init(&filters, 48000);        the rate in Hz: 48000 or 96000
 *   bittern_run(&filters, in, out, n);    n samples of every channel
 *   bittern_set_screen(&filters, channel, BITTERN_SCREEN_NONE);
 *   bittern_set_wall(&filters, channel, BITTERN_WALL_FLUSH);
 *   bittern_set_sub_trim(&filters, channel, BITTERN_SUB_TRIM_0_DB);
 *   bittern_mute(&filters, channel, 1);   channel 0 to 1
 *   bittern_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. Full
 * scale is -1 to 1. The state takes 1800 bytes, the arrays on the stack 686 in run and 1966 in
 * run_frames. Where the compiler has vectors (x86-64, AArch64), run works on several ways at
 * once: the state takes 9712 bytes there, and run's arrays 3888. To do without, define
 * BITTERN_NO_LANES in every file that includes this.
 * Single samples have code of their own. To do without, define BITTERN_NO_SINGLES where
 * bittern_float64.c is compiled: they go as blocks of one then, with the same bits in more
 * time.
 *
 * A STATE THAT IS NOT INITIALISED
 * Every call looks at 64 bits that init writes, others for every spec and format: random bytes
 * pass for initialised less than once in 10^19 states, and memory filled with one byte never.
 * What cannot be told: memory that still holds an earlier state of this spec, and a state that
 * something else wrote to.
 *
 * INTERRUPTS AND THREADS
 * Different state structs may be used at the same time. On one struct: A set call and mute may
 * come from anywhere at any time, from the main loop while run works in an interrupt, or the
 * other way round, without masking: each writes one byte, which run reads when it looks for
 * changes. What tells something may come from anywhere, too. All other calls (run, init,
 * set_rate, the resets) must not begin before another one of them has returned: mask the
 * interrupt around them where run is called there. Threads on several processor cores need a
 * lock, or a fence that makes the byte visible.
 *
 * SETTINGS (per channel; the first choice applies after init; reset keeps them)
 *   screen
 *     BITTERN_SCREEN_NONE         none
 *     BITTERN_SCREEN_PERFORATED   perforated
 *   wall
 *     BITTERN_WALL_FLUSH   flush
 *     BITTERN_WALL_FREE    free
 *   sub-trim
 *     BITTERN_SUB_TRIM_0_DB         0 dB
 *     BITTERN_SUB_TRIM_MINUS_3_DB   -3 dB
 *     BITTERN_SUB_TRIM_3_DB         3 dB
 * A set call may come at any time. Within 32 samples the sections with the new choice begin to
 * run beside the old ones. They settle unheard for 33 ms, then the outputs fade over to them in
 * 10 ms. A call during that waits until it is over; of several the last counts. For a steady
 * tone no output is louder during a change than before or after it. While a change lasts, up to
 * 10 sections of a channel run besides its own. To set the choice that is set already costs
 * nothing.
 *
 * SILENCE AND GARBAGE
 * After init and after a reset the outputs fade in within 10 ms, and so they do where a mute
 * ends. When the input falls silent, every section comes to an exact zero, whatever the
 * processor: numbers below the least normal one, which slow some down, come up for a moment at
 * most. An input that is no number (a NaN, an infinity) or is beyond 2^64 times full scale
 * mutes its channel at once and until it is reset; bittern_garbage tells.
 *
 * LEVELS
 * The input is attenuated by 7 dB (times 0.446684), headroom for the filters' boosts. Add 7 dB
 * of make-up gain after the converters. Floating-point outputs are not limited: limit them
 * before conversion to a converter's word length.
 *
 * CAUTION
 * - Signals at full level can destroy drivers in an instant, and hearing with them. Start with
 *   the level turned down, and with protection in series with a tweeter.
 * - Check that the outputs stay muted at power-up, at reset and whenever a call returns 1.
 * - Check which way reaches which amplifier before anything is loud: the wrong one sends bass
 *   to a treble driver.
 * - Where mains voltage is involved, follow local codes; that work is for licensed people.
 */
#ifndef BITTERN_FLOAT64_H
#define BITTERN_FLOAT64_H

#ifdef BITTERN_FORMAT
#error "bittern: include the header of one number format only; another one was included before"
#endif
#define BITTERN_FORMAT "float64"
#define BITTERN_SPEC_SHA256 "b652ed64a3186ead499ef684655be9b732c246a45975e38af6a82f60bc9a1284"

#include <stdint.h>

#define BITTERN_CHANNELS 2
#define BITTERN_WAYS 4
#define BITTERN_POSITIONS 33 /* the most sections of a channel at one rate */
#define BITTERN_THEN 10 /* the most that run twice while a setting changes */
#define BITTERN_SWITCHES 10 /* the most that settings pick */
#define BITTERN_DELAY_WORDS 19 /* samples that a channel remembers for the ways' delays */
#define BITTERN_SETTINGS 3
#define BITTERN_SCREEN_CHOICES 2
#define BITTERN_WALL_CHOICES 2
#define BITTERN_SUB_TRIM_CHOICES 3
#define BITTERN_MUTE 3 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum bittern_way_index {
    BITTERN_WAY_SUB = 0,
    BITTERN_WAY_BASS = 1,
    BITTERN_WAY_MID = 2,
    BITTERN_WAY_TREBLE = 3
};

/* screen */
enum bittern_screen {
    BITTERN_SCREEN_NONE = 0,
    BITTERN_SCREEN_PERFORATED = 1
};

/* wall */
enum bittern_wall {
    BITTERN_WALL_FLUSH = 0,
    BITTERN_WALL_FREE = 1
};

/* sub-trim */
enum bittern_sub_trim {
    BITTERN_SUB_TRIM_0_DB = 0,
    BITTERN_SUB_TRIM_MINUS_3_DB = 1,
    BITTERN_SUB_TRIM_3_DB = 2
};

/* What a section remembers. */
typedef struct {
    double p;
    double q;
} bittern_memory;

typedef struct {
    bittern_memory now[BITTERN_POSITIONS]; /* of what always runs, then of what settings pick */
    bittern_memory then[BITTERN_THEN]; /* of the sections that a change goes over to */
    double delay[BITTERN_DELAY_WORDS];
    uint16_t list[BITTERN_SWITCHES + 1 + BITTERN_WAYS]; /* of what settings pick */
    int16_t change; /* samples since the change of a setting began; -1: none */
    int16_t open; /* samples of the fade from silence that are done */
    unsigned char delay_at; /* where the next sample of them goes */
    int8_t step; /* 1 while that fade runs, -1 while it runs back */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade, no change; 2: the next channel is alike */
    unsigned char chosen[BITTERN_SETTINGS]; /* what is heard, or what a change goes over to */
} bittern_channel_state;

typedef struct {
    bittern_channel_state channel[BITTERN_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 128 */
    volatile unsigned char asked[BITTERN_CHANNELS][BITTERN_MUTE + 1]; /* by set and mute only */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined BITTERN_NO_LANES
    unsigned char laned; /* 1: the ways' sections stand in lanes; 2: lanes would not be faster */
    unsigned char lanes_at; /* where the first whole vector of them begins, in bytes */
    double lanes[988]; /* the sections */
#endif
} bittern_state;

#ifdef BITTERN_NO_LANES /* in every file or in none: otherwise the program does not link */
#define bittern_init bittern_init_no_lanes
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate, every setting at its first choice. No
 * channel is muted: the outputs fade in from silence. */
int bittern_init(bittern_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int bittern_set_rate(bittern_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Settings and mutes stay. */
void bittern_reset(bittern_state *s);
int bittern_reset_channel(bittern_state *s, int channel);

/* screen: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int bittern_set_screen(bittern_state *s, int channel, enum bittern_screen choice);
int bittern_get_screen(const bittern_state *s, int channel);
extern const char bittern_screen_names[BITTERN_SCREEN_CHOICES][11];

/* wall: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int bittern_set_wall(bittern_state *s, int channel, enum bittern_wall choice);
int bittern_get_wall(const bittern_state *s, int channel);
extern const char bittern_wall_names[BITTERN_WALL_CHOICES][6];

/* sub-trim: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int bittern_set_sub_trim(bittern_state *s, int channel, enum bittern_sub_trim choice);
int bittern_get_sub_trim(const bittern_state *s, int channel);
extern const char bittern_sub_trim_names[BITTERN_SUB_TRIM_CHOICES][6];

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int bittern_mute(bittern_state *s, int channel, int on);
int bittern_muted(const bittern_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int bittern_garbage(const bittern_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * BITTERN_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int bittern_run(bittern_state *s, const double *const *in, double *const *out, int n);

/* The same with samples side by side:
 * in[i * BITTERN_CHANNELS + channel] -> out[(i * BITTERN_CHANNELS + channel) * BITTERN_WAYS + way]. */
int bittern_run_frames(bittern_state *s, const double *in, double *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int bittern_run_frames_int32(bittern_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
