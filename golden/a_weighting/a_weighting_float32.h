/*
 * a_weighting_float32.h: the loudspeaker filters of "a_weighting" in single precision
 *
 * A-weighting for sound level measurement (IEC 61672-1)
 * Revision 1
 * Spec SHA-256 586ddc2e7bfba0c537e7adf995975c582ba12a8e1321cb9998a02ca317388236
 *
 * WHAT IT DOES
 * One input channel becomes 1 way. Every input sample passes the common filters once;
 * each way then waits for its delay, applies its gain with its polarity and its own filters:
 *
 *   out[A_WEIGHTING_WAY_WEIGHTED]: weighted, 0 dB, normal polarity, sections: 3
 *
 * Each filter is a section of first or second order that computes, in this order and with
 * every product and sum rounded separately,
 *
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
 * Compile a_weighting_float32.c with your program, and include this header where it is used.
 *
 *   static a_weighting_state filters;         all the memory that is used
 *   a_weighting_init(&filters, 48000);        the rate in Hz: 48000 or 96000
 *   a_weighting_run(&filters, in, out, n);    n samples of every channel
 *   a_weighting_mute(&filters, channel, 1);   channel 0
 *   a_weighting_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. Full
 * scale is -1 to 1. The state takes 52 bytes, the arrays on the stack 128 in run and 384 in
 * run_frames.
 * Single samples have code of their own. To do without, define A_WEIGHTING_NO_SINGLES where
 * a_weighting_float32.c is compiled: they go as blocks of one then, with the same bits in more
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
 * mutes its channel at once and until it is reset; a_weighting_garbage tells.
 *
 * LEVELS
 * The input is attenuated by 2 dB (times 0.794328), headroom for the filters' boosts. Add 2 dB
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
#ifndef A_WEIGHTING_FLOAT32_H
#define A_WEIGHTING_FLOAT32_H

#ifdef A_WEIGHTING_FORMAT
#error "a_weighting: include the header of one number format only; another one was included before"
#endif
#define A_WEIGHTING_FORMAT "float32"
#define A_WEIGHTING_SPEC_SHA256 "586ddc2e7bfba0c537e7adf995975c582ba12a8e1321cb9998a02ca317388236"

#include <stdint.h>

#define A_WEIGHTING_CHANNELS 1
#define A_WEIGHTING_WAYS 1
#define A_WEIGHTING_POSITIONS 3 /* the most sections of a channel at one rate */
#define A_WEIGHTING_MUTE 0 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum a_weighting_way_index {
    A_WEIGHTING_WAY_WEIGHTED = 0
};

/* What a section remembers. */
typedef struct {
    float p;
    float q;
} a_weighting_memory;

typedef struct {
    a_weighting_memory now[A_WEIGHTING_POSITIONS]; /* in the order of the lists */
    int16_t open; /* samples of the fade from silence that are done */
    int8_t step; /* 1 while that fade runs, -1 while it runs back */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade, no change */
} a_weighting_channel_state;

typedef struct {
    a_weighting_channel_state channel[A_WEIGHTING_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 128 */
    volatile unsigned char asked[A_WEIGHTING_CHANNELS][A_WEIGHTING_MUTE + 1]; /* by mute only */
} a_weighting_state;

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate. No
 * channel is muted: the outputs fade in from silence. */
int a_weighting_init(a_weighting_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int a_weighting_set_rate(a_weighting_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Mutes stay. */
void a_weighting_reset(a_weighting_state *s);
int a_weighting_reset_channel(a_weighting_state *s, int channel);

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int a_weighting_mute(a_weighting_state *s, int channel, int on);
int a_weighting_muted(const a_weighting_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int a_weighting_garbage(const a_weighting_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * A_WEIGHTING_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int a_weighting_run(a_weighting_state *s, const float *const *in, float *const *out, int n);

/* The same with samples side by side:
 * in[i * A_WEIGHTING_CHANNELS + channel] -> out[(i * A_WEIGHTING_CHANNELS + channel) * A_WEIGHTING_WAYS + way]. */
int a_weighting_run_frames(a_weighting_state *s, const float *in, float *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int a_weighting_run_frames_int32(a_weighting_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
