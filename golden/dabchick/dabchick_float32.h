/*
 * dabchick_float32.h: the loudspeaker filters of "dabchick" in single precision
 *
 * Dabchick, a small sealed two-way for desks (invented)
 * Revision A1
 * Spec SHA-256 e9e3a6613886ac7f14945f19e9061166695aa6e43386e7818311cf29d7257624
 *
 * WHAT IT DOES
 * One input channel becomes 2 ways. Every input sample passes the common filters once;
 * each way then waits for its delay, applies its gain with its polarity and its own filters:
 *
 *   out[DABCHICK_WAY_BASS]: bass, -3 dB, normal polarity, sections: 6
 *   out[DABCHICK_WAY_TREBLE]: treble, -5 dB, inverted polarity, sections: 4
 *
 * Each filter is a section of first or second order that computes, in this order and with
 * every product and sum rounded separately,
 *
 *   direct form
 *     y = b0*x + p
 *     p = (q + b1*x) - a1*y
 *     q = b2*x - a2*y
 *   delta form
 *     y = b0*x + p
 *     p = p + ((q + b1*x) - a1*y)
 *     q = (q + b2*x) - a2*y
 *
 * The feedback a1, a2 is SUBTRACTED.
 * with H = (b0 + b1*t + b2*t^2) / (1 + a1*t + a2*t^2), t = 1/z in the direct form, t = 1/(z -
 * 1) in the delta form, which keeps low corners accurate at short word lengths. Do not edit
 * this file: change the spec instead.
 *
 * HOW TO USE IT
 * Compile dabchick_float32.c with your program, and include this header where it is used.
 *
 *   static dabchick_state filters;         all the memory that is used
 *   dabchick_init(&filters, 44100);        the rate in Hz: 44100, 48000 or 96000
 *   dabchick_run(&filters, in, out, n);    n samples of every channel
 *   dabchick_set_desk(&filters, channel, DABCHICK_DESK_NONE);
 *   dabchick_mute(&filters, channel, 1);   channel 0 to 1
 *   dabchick_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. Full
 * scale is -1 to 1. The state takes 292 bytes, the arrays on the stack 266 in run and 650 in
 * run_frames. Where the compiler has vectors (x86-64, AArch64), run works on several ways at
 * once: the state takes 1656 bytes there, and run's arrays 1792. To do without, define
 * DABCHICK_NO_LANES in every file that includes this.
 * Single samples have code of their own. To do without, define DABCHICK_NO_SINGLES where
 * dabchick_float32.c is compiled: they go as blocks of one then, with the same bits in more
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
 *   desk
 *     DABCHICK_DESK_NONE      none
 *     DABCHICK_DESK_ON_DESK   on-desk
 * A set call may come at any time. Within 32 samples the sections with the new choice begin to
 * run beside the old ones. They settle unheard for 41 ms, then the outputs fade over to them in
 * 10 ms. A call during that waits until it is over; of several the last counts. For a steady
 * tone no output is louder during a change than before or after it. While a change lasts, up to
 * 4 sections of a channel run besides its own. To set the choice that is set already costs
 * nothing.
 *
 * SILENCE AND GARBAGE
 * After init and after a reset the outputs fade in within 10 ms, and so they do where a mute
 * ends. When the input falls silent, every section comes to an exact zero, whatever the
 * processor: numbers below the least normal one, which slow some down, come up for a moment at
 * most. An input that is no number (a NaN, an infinity) or is beyond 2^64 times full scale
 * mutes its channel at once and until it is reset; dabchick_garbage tells.
 *
 * LEVELS
 * The input is attenuated by 9 dB (times 0.354813), headroom for the filters' boosts. Add 9 dB
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
#ifndef DABCHICK_FLOAT32_H
#define DABCHICK_FLOAT32_H

#ifdef DABCHICK_FORMAT
#error "dabchick: include the header of one number format only; another one was included before"
#endif
#define DABCHICK_FORMAT "float32"
#define DABCHICK_SPEC_SHA256 "e9e3a6613886ac7f14945f19e9061166695aa6e43386e7818311cf29d7257624"

#include <stdint.h>

#define DABCHICK_CHANNELS 2
#define DABCHICK_WAYS 2
#define DABCHICK_POSITIONS 10 /* the most sections of a channel at one rate */
#define DABCHICK_THEN 4 /* the most that run twice while a setting changes */
#define DABCHICK_SWITCHES 4 /* the most that settings pick */
#define DABCHICK_SETTINGS 1
#define DABCHICK_DESK_CHOICES 2
#define DABCHICK_MUTE 1 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum dabchick_way_index {
    DABCHICK_WAY_BASS = 0,
    DABCHICK_WAY_TREBLE = 1
};

/* desk */
enum dabchick_desk {
    DABCHICK_DESK_NONE = 0,
    DABCHICK_DESK_ON_DESK = 1
};

/* What a section remembers. */
typedef struct {
    float p;
    float q;
} dabchick_memory;

typedef struct {
    dabchick_memory now[DABCHICK_POSITIONS]; /* of what always runs, then of what settings pick */
    dabchick_memory then[DABCHICK_THEN]; /* of the sections that a change goes over to */
    uint16_t list[DABCHICK_SWITCHES + 1 + DABCHICK_WAYS]; /* of what settings pick */
    int16_t change; /* samples since the change of a setting began; -1: none */
    int16_t open; /* samples of the fade from silence that are done */
    int8_t step; /* 1 while that fade runs, -1 while it runs back */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade, no change; 2: the next channel is alike */
    unsigned char chosen[DABCHICK_SETTINGS]; /* what is heard, or what a change goes over to */
} dabchick_channel_state;

typedef struct {
    dabchick_channel_state channel[DABCHICK_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 128 */
    volatile unsigned char asked[DABCHICK_CHANNELS][DABCHICK_MUTE + 1]; /* by set and mute only */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DABCHICK_NO_LANES
    unsigned char laned; /* 1: the ways' sections stand in lanes; 2: lanes would not be faster */
    unsigned char lanes_at; /* where the first whole vector of them begins, in bytes */
    float lanes[340]; /* the sections */
#endif
} dabchick_state;

#ifdef DABCHICK_NO_LANES /* in every file or in none: otherwise the program does not link */
#define dabchick_init dabchick_init_no_lanes
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate, every setting at its first choice. No
 * channel is muted: the outputs fade in from silence. */
int dabchick_init(dabchick_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int dabchick_set_rate(dabchick_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Settings and mutes stay. */
void dabchick_reset(dabchick_state *s);
int dabchick_reset_channel(dabchick_state *s, int channel);

/* desk: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int dabchick_set_desk(dabchick_state *s, int channel, enum dabchick_desk choice);
int dabchick_get_desk(const dabchick_state *s, int channel);
extern const char dabchick_desk_names[DABCHICK_DESK_CHOICES][8];

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int dabchick_mute(dabchick_state *s, int channel, int on);
int dabchick_muted(const dabchick_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int dabchick_garbage(const dabchick_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * DABCHICK_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int dabchick_run(dabchick_state *s, const float *const *in, float *const *out, int n);

/* The same with samples side by side:
 * in[i * DABCHICK_CHANNELS + channel] -> out[(i * DABCHICK_CHANNELS + channel) * DABCHICK_WAYS + way]. */
int dabchick_run_frames(dabchick_state *s, const float *in, float *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int dabchick_run_frames_int32(dabchick_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
