/*
 * heron_float64.h: the loudspeaker filters of "heron" in double precision
 *
 * Heron, a three-way for recital halls (invented)
 * Revision B2
 * Spec SHA-256 749a0ecc317b8edad31dca10cf8987c5bc35bb68c2e7a6660ab2b71a33f28209
 *
 * WHAT IT DOES
 * One input channel becomes 3 ways. Every input sample passes the common filters once;
 * each way then waits for its delay, applies its gain with its polarity and its own filters:
 *
 *   out[HERON_WAY_BASS]: bass, -4 dB, normal polarity, sections: 6
 *   out[HERON_WAY_MID]: mid, 0 dB, normal polarity, sections: 7
 *   out[HERON_WAY_TREBLE]: treble, -1.5 dB, normal polarity, sections: 5, samples of delay:
 *     4 at 48000 Hz, 9 at 96000 Hz
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
 * Compile heron_float64.c with your program, and include this header where it is used.
 *
 *   static heron_state filters;         all the memory that is used
 *   heron_init(&filters, 48000);        the rate in Hz: 48000 or 96000
 *   heron_run(&filters, in, out, n);    n samples of every channel
 *   heron_set_placement(&filters, channel, HERON_PLACEMENT_FREE);
 *   heron_set_grille(&filters, channel, HERON_GRILLE_NONE);
 *   heron_set_treble_trim(&filters, channel, HERON_TREBLE_TRIM_0_DB);
 *   heron_mute(&filters, channel, 1);   channel 0 to 1
 *   heron_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. Full
 * scale is -1 to 1. The state takes 1080 bytes, the arrays on the stack 600 in run and 1624 in
 * run_frames. Where the compiler has vectors (x86-64, AArch64), run works on several ways at
 * once: the state takes 7072 bytes there, and run's arrays 3728. To do without, define
 * HERON_NO_LANES in every file that includes this.
 * Single samples have code of their own. To do without, define HERON_NO_SINGLES where
 * heron_float64.c is compiled: they go as blocks of one then, with the same bits in more time.
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
 *   placement
 *     HERON_PLACEMENT_FREE     free
 *     HERON_PLACEMENT_WALL     wall
 *     HERON_PLACEMENT_CORNER   corner
 *   grille
 *     HERON_GRILLE_NONE    none
 *     HERON_GRILLE_WOVEN   woven
 *   treble-trim
 *     HERON_TREBLE_TRIM_0_DB           0 dB
 *     HERON_TREBLE_TRIM_MINUS_1_5_DB   -1.5 dB
 * A set call may come at any time. Within 32 samples the sections with the new choice begin to
 * run beside the old ones. They settle unheard for 20 ms, then the outputs fade over to them in
 * 10 ms. A call during that waits until it is over; of several the last counts. For a steady
 * tone no output is louder during a change than before or after it. While a change lasts, up to
 * 7 sections of a channel run besides its own. To set the choice that is set already costs
 * nothing.
 *
 * SILENCE AND GARBAGE
 * After init and after a reset the outputs fade in within 10 ms, and so they do where a mute
 * ends. When the input falls silent, every section comes to an exact zero, whatever the
 * processor: numbers below the least normal one, which slow some down, come up for a moment at
 * most. An input that is no number (a NaN, an infinity) or is beyond 2^64 times full scale
 * mutes its channel at once and until it is reset; heron_garbage tells.
 *
 * LEVELS
 * The input is attenuated by 6 dB (times 0.501187), headroom for the filters' boosts. Add 6 dB
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
#ifndef HERON_FLOAT64_H
#define HERON_FLOAT64_H

#ifdef HERON_FORMAT
#error "heron: include the header of one number format only; another one was included before"
#endif
#define HERON_FORMAT "float64"
#define HERON_SPEC_SHA256 "749a0ecc317b8edad31dca10cf8987c5bc35bb68c2e7a6660ab2b71a33f28209"

#include <stdint.h>

#define HERON_CHANNELS 2
#define HERON_WAYS 3
#define HERON_POSITIONS 19 /* the most sections of a channel at one rate */
#define HERON_THEN 7 /* the most that run twice while a setting changes */
#define HERON_SWITCHES 7 /* the most that settings pick */
#define HERON_DELAY_WORDS 9 /* samples that a channel remembers for the ways' delays */
#define HERON_SETTINGS 3
#define HERON_PLACEMENT_CHOICES 3
#define HERON_GRILLE_CHOICES 2
#define HERON_TREBLE_TRIM_CHOICES 2
#define HERON_MUTE 3 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum heron_way_index {
    HERON_WAY_BASS = 0,
    HERON_WAY_MID = 1,
    HERON_WAY_TREBLE = 2
};

/* placement */
enum heron_placement {
    HERON_PLACEMENT_FREE = 0,
    HERON_PLACEMENT_WALL = 1,
    HERON_PLACEMENT_CORNER = 2
};

/* grille */
enum heron_grille {
    HERON_GRILLE_NONE = 0,
    HERON_GRILLE_WOVEN = 1
};

/* treble-trim */
enum heron_treble_trim {
    HERON_TREBLE_TRIM_0_DB = 0,
    HERON_TREBLE_TRIM_MINUS_1_5_DB = 1
};

/* What a section remembers. */
typedef struct {
    double p;
    double q;
} heron_memory;

typedef struct {
    heron_memory now[HERON_POSITIONS]; /* of what always runs, then of what settings pick */
    heron_memory then[HERON_THEN]; /* of the sections that a change goes over to */
    double delay[HERON_DELAY_WORDS];
    uint16_t list[HERON_SWITCHES + 1 + HERON_WAYS]; /* of what settings pick */
    int16_t change; /* samples since the change of a setting began; -1: none */
    int16_t open; /* samples of the fade from silence that are done */
    unsigned char delay_at; /* where the next sample of them goes */
    int8_t step; /* 1 while that fade runs, -1 while it runs back */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade, no change; 2: the next channel is alike */
    unsigned char chosen[HERON_SETTINGS]; /* what is heard, or what a change goes over to */
} heron_channel_state;

typedef struct {
    heron_channel_state channel[HERON_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 128 */
    volatile unsigned char asked[HERON_CHANNELS][HERON_MUTE + 1]; /* by set and mute only */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined HERON_NO_LANES
    unsigned char laned; /* 1: the ways' sections stand in lanes; 2: lanes would not be faster */
    unsigned char lanes_at; /* where the first whole vector of them begins, in bytes */
    double lanes[748]; /* the sections */
#endif
} heron_state;

#ifdef HERON_NO_LANES /* in every file or in none: otherwise the program does not link */
#define heron_init heron_init_no_lanes
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate, every setting at its first choice. No
 * channel is muted: the outputs fade in from silence. */
int heron_init(heron_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int heron_set_rate(heron_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Settings and mutes stay. */
void heron_reset(heron_state *s);
int heron_reset_channel(heron_state *s, int channel);

/* placement: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int heron_set_placement(heron_state *s, int channel, enum heron_placement choice);
int heron_get_placement(const heron_state *s, int channel);
extern const char heron_placement_names[HERON_PLACEMENT_CHOICES][7];

/* grille: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int heron_set_grille(heron_state *s, int channel, enum heron_grille choice);
int heron_get_grille(const heron_state *s, int channel);
extern const char heron_grille_names[HERON_GRILLE_CHOICES][6];

/* treble-trim: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int heron_set_treble_trim(heron_state *s, int channel, enum heron_treble_trim choice);
int heron_get_treble_trim(const heron_state *s, int channel);
extern const char heron_treble_trim_names[HERON_TREBLE_TRIM_CHOICES][8];

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int heron_mute(heron_state *s, int channel, int on);
int heron_muted(const heron_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int heron_garbage(const heron_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * HERON_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int heron_run(heron_state *s, const double *const *in, double *const *out, int n);

/* The same with samples side by side:
 * in[i * HERON_CHANNELS + channel] -> out[(i * HERON_CHANNELS + channel) * HERON_WAYS + way]. */
int heron_run_frames(heron_state *s, const double *in, double *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int heron_run_frames_int32(heron_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
