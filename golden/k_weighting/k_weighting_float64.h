/*
 * k_weighting_float64.h: the loudspeaker filters of "k_weighting" in double precision
 *
 * K-weighting for loudness measurement (ITU-R BS.1770, Annex 1)
 * Revision 1
 * Spec SHA-256 29e1ef5e82e76c1e77f1dd7279d7a5b11a20f993805dabaca2663d1272037fd4
 *
 * WHAT IT DOES
 * One input channel becomes 1 way. Every input sample passes the common filters once;
 * each way then waits for its delay, applies its gain with its polarity and its own filters:
 *
 *   out[K_WEIGHTING_WAY_WEIGHTED]: weighted, 0.043 dB, normal polarity, sections: 2
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
 * Compile k_weighting_float64.c with your program, and include this header where it is used.
 *
 *   static k_weighting_state filters;         all the memory that is used
 *   k_weighting_init(&filters, 48000);        the rate in Hz: 48000
 *   k_weighting_run(&filters, in, out, n);    n samples of every channel
 *   k_weighting_mute(&filters, channel, 1);   channel 0 to 1
 *   k_weighting_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. Full
 * scale is -1 to 1. The state takes 104 bytes, the arrays on the stack 256 in run and 768 in
 * run_frames. Where the compiler has vectors (x86-64, AArch64), run works on several ways at
 * once: the state takes 808 bytes there, and run's arrays 2560. To do without, define
 * K_WEIGHTING_NO_LANES in every file that includes this.
 * Single samples have code of their own. To do without, define K_WEIGHTING_NO_SINGLES where
 * k_weighting_float64.c is compiled: they go as blocks of one then, with the same bits in more
 * time.
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
 * mutes its channel at once and until it is reset; k_weighting_garbage tells.
 *
 * LEVELS
 * The input is attenuated by 5 dB (times 0.562341), headroom for the filters' boosts. Add 5 dB
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
#ifndef K_WEIGHTING_FLOAT64_H
#define K_WEIGHTING_FLOAT64_H

#ifdef K_WEIGHTING_FORMAT
#error "k_weighting: include the header of one number format only; another one was included before"
#endif
#define K_WEIGHTING_FORMAT "float64"
#define K_WEIGHTING_SPEC_SHA256 "29e1ef5e82e76c1e77f1dd7279d7a5b11a20f993805dabaca2663d1272037fd4"

#include <stdint.h>

#define K_WEIGHTING_CHANNELS 2
#define K_WEIGHTING_WAYS 1
#define K_WEIGHTING_POSITIONS 2 /* the most sections of a channel at one rate */
#define K_WEIGHTING_MUTE 0 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum k_weighting_way_index {
    K_WEIGHTING_WAY_WEIGHTED = 0
};

/* What a section remembers. */
typedef struct {
    double p;
    double q;
} k_weighting_memory;

typedef struct {
    k_weighting_memory now[K_WEIGHTING_POSITIONS]; /* in the order of the lists */
    int16_t open; /* samples of the fade from silence that are done */
    int8_t step; /* 1 while that fade runs, -1 while it runs back */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade, no change; 2: the next channel is alike */
} k_weighting_channel_state;

typedef struct {
    k_weighting_channel_state channel[K_WEIGHTING_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 128 */
    volatile unsigned char asked[K_WEIGHTING_CHANNELS][K_WEIGHTING_MUTE + 1]; /* by mute only */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined K_WEIGHTING_NO_LANES
    unsigned char laned; /* 1: the ways' sections stand in lanes; 2: lanes would not be faster */
    unsigned char lanes_at; /* where the first whole vector of them begins, in bytes */
    double lanes[88]; /* the sections */
#endif
} k_weighting_state;

#ifdef K_WEIGHTING_NO_LANES /* in every file or in none: otherwise the program does not link */
#define k_weighting_init k_weighting_init_no_lanes
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate. No
 * channel is muted: the outputs fade in from silence. */
int k_weighting_init(k_weighting_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int k_weighting_set_rate(k_weighting_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Mutes stay. */
void k_weighting_reset(k_weighting_state *s);
int k_weighting_reset_channel(k_weighting_state *s, int channel);

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int k_weighting_mute(k_weighting_state *s, int channel, int on);
int k_weighting_muted(const k_weighting_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int k_weighting_garbage(const k_weighting_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * K_WEIGHTING_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int k_weighting_run(k_weighting_state *s, const double *const *in, double *const *out, int n);

/* The same with samples side by side:
 * in[i * K_WEIGHTING_CHANNELS + channel] -> out[(i * K_WEIGHTING_CHANNELS + channel) * K_WEIGHTING_WAYS + way]. */
int k_weighting_run_frames(k_weighting_state *s, const double *in, double *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int k_weighting_run_frames_int32(k_weighting_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
