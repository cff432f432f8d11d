/*
 * pipit_float32.h: the loudspeaker filters of "pipit" in single precision
 *
 * Pipit, the least a two-way needs (invented)
 * Spec SHA-256 4eae535d87d6de68631765ffcaa2606f86dbf6bf82c80c9bf5fe841db6e2b4f7
 *
 * WHAT IT DOES
 * One input channel becomes 2 ways. Every input sample passes the common filters once;
 * each way then waits for its delay, applies its gain with its polarity and its own filters:
 *
 *   out[PIPIT_WAY_BASS]: bass, -2 dB, normal polarity, sections: 3
 *   out[PIPIT_WAY_TREBLE]: treble, -6 dB, inverted polarity, sections: 1
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
 * Compile pipit_float32.c with your program, and include this header where it is used.
 *
 *   static pipit_state filters;         all the memory that is used
 *   pipit_init(&filters, 48000);        the rate in Hz: 48000
 *   pipit_run(&filters, in, out, n);    n samples of every channel
 *   pipit_mute(&filters, channel, 1);   channel 0
 *   pipit_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. Full
 * scale is -1 to 1. The state takes 60 bytes, the arrays on the stack 128 in run and 512 in
 * run_frames. Where the compiler has vectors (x86-64, AArch64), run works on several ways at
 * once: the state takes 924 bytes there, and run's arrays 1536. To do without, define
 * PIPIT_NO_LANES in every file that includes this.
 * Single samples have code of their own. To do without, define PIPIT_NO_SINGLES where
 * pipit_float32.c is compiled: they go as blocks of one then, with the same bits in more time.
 *
 * A STATE THAT IS NOT INITIALISED
 * Every call looks at 64 bits that init writes, others for every spec and format: random bytes
 * pass for initialised less than once in 10^19 states, and memory filled with one byte never.
 * What cannot be told: memory that still holds an earlier state of this spec, and a state that
 * something else wrote to.
 *
 * INTERRUPTS AND THREADS
 * Different state structs may be used at the same time. On one struct: mute may come from
 * anywhere at any time, from the main loop while run works in an interrupt, or the other way
 * round, without masking: each writes one byte, which run reads when it looks for changes. What
 * tells something may come from anywhere, too. All other calls (run, init, set_rate, the
 * resets) must not begin before another one of them has returned: mask the interrupt around
 * them where run is called there. Threads on several processor cores need a lock, or a fence
 * that makes the byte visible.
 *
 * SILENCE AND GARBAGE
 * After init and after a reset the outputs fade in within 10 ms, and so they do where a mute
 * ends. When the input falls silent, every section comes to an exact zero, whatever the
 * processor: numbers below the least normal one, which slow some down, come up for a moment at
 * most. An input that is no number (a NaN, an infinity) or is beyond 2^64 times full scale
 * mutes its channel at once and until it is reset; pipit_garbage tells.
 *
 * LEVELS
 * The input is not attenuated: boosts can raise the outputs above full scale. Floating-point
 * outputs are not limited: limit them before conversion to a converter's word length.
 *
 * CAUTION
 * - Signals at full level can destroy drivers in an instant, and hearing with them. Start with
 *   the level turned down, and with protection in series with a tweeter.
 * - Check that the outputs stay muted at power-up, at reset and whenever a call returns 1.
 * - Check which way reaches which amplifier before anything is loud: the wrong one sends bass
 *   to a treble driver.
 * - Where mains voltage is involved, follow local codes; that work is for licensed people.
 */
#ifndef PIPIT_FLOAT32_H
#define PIPIT_FLOAT32_H

#ifdef PIPIT_FORMAT
#error "pipit: include the header of one number format only; another one was included before"
#endif
#define PIPIT_FORMAT "float32"
#define PIPIT_SPEC_SHA256 "4eae535d87d6de68631765ffcaa2606f86dbf6bf82c80c9bf5fe841db6e2b4f7"

#include <stdint.h>

#define PIPIT_CHANNELS 1
#define PIPIT_WAYS 2
#define PIPIT_POSITIONS 4 /* the most sections of a channel at one rate */
#define PIPIT_MUTE 0 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum pipit_way_index {
    PIPIT_WAY_BASS = 0,
    PIPIT_WAY_TREBLE = 1
};

/* What a section remembers. */
typedef struct {
    float p;
    float q;
} pipit_memory;

typedef struct {
    pipit_memory now[PIPIT_POSITIONS]; /* in the order of the lists */
    int16_t open; /* samples of the fade from silence that are done */
    int8_t step; /* 1 while that fade runs, -1 while it runs back */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade, no change */
} pipit_channel_state;

typedef struct {
    pipit_channel_state channel[PIPIT_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 128 */
    volatile unsigned char asked[PIPIT_CHANNELS][PIPIT_MUTE + 1]; /* by mute only */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined PIPIT_NO_LANES
    unsigned char laned; /* 1: the ways' sections stand in lanes; 2: lanes would not be faster */
    unsigned char lanes_at; /* where the first whole vector of them begins, in bytes */
    float lanes[216]; /* the sections */
#endif
} pipit_state;

#ifdef PIPIT_NO_LANES /* in every file or in none: otherwise the program does not link */
#define pipit_init pipit_init_no_lanes
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate. No
 * channel is muted: the outputs fade in from silence. */
int pipit_init(pipit_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int pipit_set_rate(pipit_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Mutes stay. */
void pipit_reset(pipit_state *s);
int pipit_reset_channel(pipit_state *s, int channel);

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int pipit_mute(pipit_state *s, int channel, int on);
int pipit_muted(const pipit_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int pipit_garbage(const pipit_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * PIPIT_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int pipit_run(pipit_state *s, const float *const *in, float *const *out, int n);

/* The same with samples side by side:
 * in[i * PIPIT_CHANNELS + channel] -> out[(i * PIPIT_CHANNELS + channel) * PIPIT_WAYS + way]. */
int pipit_run_frames(pipit_state *s, const float *in, float *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int pipit_run_frames_int32(pipit_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
