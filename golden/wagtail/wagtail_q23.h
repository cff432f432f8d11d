/*
 * wagtail_q23.h: the loudspeaker filters of "wagtail" in fixed point, 24-bit samples
 *
 * Wagtail, a two-way in fixed point (invented)
 * Revision A1
 * Spec SHA-256 2ed3eabd1b2faac077ea3710ebe52ca82c615fc363ccb4393a0272918c09ba0e
 *
 * WHAT IT DOES
 * One input channel becomes 2 ways. Every input sample passes the common filters once;
 * each way then applies its gain with its polarity, its own filters and its delay:
 *
 *   out[WAGTAIL_WAY_BASS]: bass, 0 dB, normal polarity, sections: 5
 *   out[WAGTAIL_WAY_TREBLE]: treble, -3 dB, normal polarity, sections: 4
 *
 * Each filter is a section of first or second order that computes, in this order and with
 * y alone rounded (times and sums are exact in 64 bits),
 *
 *   direct form
 *     m1 = 0 - a1
 *     m2 = 0 - a2
 *     y = narrow(times(b0, x) + p)
 *     p = (q + times(b1, x)) + times(m1, y)
 *     q = times(b2, x) + times(m2, y)
 *   error-feedback form
 *     m1 = 0 - a1
 *     m2 = 0 - a2
 *     s = times(b0, x) + p
 *     y = lower(s)
 *     p = ((q + times(b1, x)) + times(m1, y)) + left(s)
 *     q = times(b2, x) + times(m2, y)
 *   delta-4 form
 *     m1 = 0 - a1
 *     m2 = 0 - a2
 *     y = lower(times(b0, x) + down4(p))
 *     p = ((p + down4(q)) + times(b1, x)) + times(m1, y)
 *     q = (q + times(b2, x)) + times(m2, y)
 *   delta-8 form
 *     m1 = 0 - a1
 *     m2 = 0 - a2
 *     y = lower(times(b0, x) + p)
 *     p = p + down8((q + times(b1, x)) + times(m1, y))
 *     q = q + down8(times(b2, x) + times(m2, y))
 *
 * The feedback a1, a2 is SUBTRACTED.
 * Words of the table are whole numbers, 2^27 for 1, that of the k-th power of t another 2^(s*k)
 * larger, with H = (b0 + b1*t + b2*t^2) / (1 + a1*t + a2*t^2): t = 1/z in the direct form and
 * in that with error feedback, t = 1/(z - 1) in the delta forms, which keep low corners
 * accurate; s is the 4 or 8 bits that these shift down by. narrow(v) is the whole number
 * nearest to v / 2^27, of two the greater, lower(v) the greatest up to it and left(v) what that
 * leaves out; down4(v) and down8(v) are the greatest whole numbers up to v / 16 and v / 256. Do
 * not edit this file: change the spec instead.
 *
 * HOW TO USE IT
 * Compile wagtail_q23.c with your program, and include this header where it is used.
 *
 *   static wagtail_state filters;         all the memory that is used
 *   wagtail_init(&filters, 48000);        the rate in Hz: 48000
 *   wagtail_run(&filters, in, out, n);    n samples of every channel
 *   wagtail_set_placement(&filters, channel, WAGTAIL_PLACEMENT_STAND);
 *   wagtail_mute(&filters, channel, 1);   channel 0
 *   wagtail_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. A sample
 * is a whole number from -8388608 to 8388607. The state takes 256 bytes, the arrays on the
 * stack 384 in run and 768 in run_frames.
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
 *     WAGTAIL_PLACEMENT_STAND   stand
 *     WAGTAIL_PLACEMENT_SHELF   shelf
 * A set call may come at any time. Within 32 samples the sections with the new choice begin to
 * run beside the old ones. They settle unheard for 23 ms, then the outputs fade over to them in
 * 10 ms. A call during that waits until it is over; of several the last counts. For a steady
 * tone no output is louder during a change than before or after it. While a change lasts, up to
 * 2 sections of a channel run besides its own. To set the choice that is set already costs
 * nothing.
 *
 * SILENCE AND GARBAGE
 * After init and after a reset the outputs fade in within 10 ms, and so they do where a mute
 * ends. When the input falls silent, every section comes to zero, or to a few of its last bits
 * where rounding keeps them alive. Every word is a sample: there is no garbage.
 *
 * LEVELS
 * The input is attenuated by 6 dB (times 0.501187), headroom for the filters' boosts. Add 6 dB
 * of make-up gain after the converters. Outputs beyond full scale are limited to it. Inside, 2
 * bits of every word stay free above full scale: no input, whatever its wave, makes a sum
 * overflow in any setting (L1 norm at every node). Outputs are rounded to their first 24 bits
 * with triangular dither: in front of the rounding the first 8 bits of a word are added and
 * its last 8 subtracted, in units of the 32nd bit. Each output has a word of its own, every
 * sample the next one: w ^= w << 13, w ^= w >> 17, w ^= w << 5 (xorshift, period 2^32 - 1);
 * after init and every reset it begins at 0x9e3779b9 * (1 + channel * WAGTAIL_WAYS + way).
 * What is rounded off then is noise whatever the signal, -142 dBFS from 20 Hz to 20 kHz, also
 * in silence; a muted output is zero.
 *
 * CAUTION
 * - Signals at full level can destroy drivers in an instant, and hearing with them. Start with
 *   the level turned down, and with protection in series with a tweeter.
 * - Check that the outputs stay muted at power-up, at reset and whenever a call returns 1.
 * - Check which way reaches which amplifier before anything is loud: the wrong one sends bass
 *   to a treble driver.
 * - Where mains voltage is involved, follow local codes; that work is for licensed people.
 */
#ifndef WAGTAIL_Q23_H
#define WAGTAIL_Q23_H

#ifdef WAGTAIL_FORMAT
#error "wagtail: include the header of one number format only; another one was included before"
#endif
#define WAGTAIL_FORMAT "q23"
#define WAGTAIL_SPEC_SHA256 "2ed3eabd1b2faac077ea3710ebe52ca82c615fc363ccb4393a0272918c09ba0e"

#include <stdint.h>

#define WAGTAIL_CHANNELS 1
#define WAGTAIL_WAYS 2
#define WAGTAIL_POSITIONS 10 /* the most sections of a channel at one rate */
#define WAGTAIL_THEN 2 /* the most that run twice while a setting changes */
#define WAGTAIL_SWITCHES 2 /* the most that settings pick */
#define WAGTAIL_SETTINGS 1
#define WAGTAIL_PLACEMENT_CHOICES 2
#define WAGTAIL_MUTE 1 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum wagtail_way_index {
    WAGTAIL_WAY_BASS = 0,
    WAGTAIL_WAY_TREBLE = 1
};

/* placement */
enum wagtail_placement {
    WAGTAIL_PLACEMENT_STAND = 0,
    WAGTAIL_PLACEMENT_SHELF = 1
};

/* What a section remembers. */
typedef struct {
    int64_t p;
    int64_t q;
} wagtail_memory;

typedef struct {
    wagtail_memory now[WAGTAIL_POSITIONS]; /* in the order of the lists */
    wagtail_memory then[WAGTAIL_THEN]; /* of the sections that a change goes over to */
    uint32_t seed[WAGTAIL_WAYS]; /* of each output's dither */
    int32_t change; /* samples since the change of a setting began; -1: none */
    int32_t open; /* samples of the fade from silence that are done */
    int32_t step; /* 1 while that fade runs, -1 while it runs back */
    uint16_t list[WAGTAIL_SWITCHES + 1 + WAGTAIL_WAYS]; /* of what settings pick */
    uint16_t list_then[WAGTAIL_SWITCHES + 1 + WAGTAIL_WAYS];
    unsigned char chosen[WAGTAIL_SETTINGS];
    unsigned char next[WAGTAIL_SETTINGS];
    volatile unsigned char asked[WAGTAIL_MUTE + 1]; /* written by set calls and mute only */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade and no change */
} wagtail_channel_state;

typedef struct {
    wagtail_channel_state channel[WAGTAIL_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 256 */
} wagtail_state;

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate, every setting at its first choice. No
 * channel is muted: the outputs fade in from silence. */
int wagtail_init(wagtail_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int wagtail_set_rate(wagtail_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Settings and mutes stay. */
void wagtail_reset(wagtail_state *s);
int wagtail_reset_channel(wagtail_state *s, int channel);

/* placement: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int wagtail_set_placement(wagtail_state *s, int channel, enum wagtail_placement choice);
int wagtail_get_placement(const wagtail_state *s, int channel);
extern const char *const wagtail_placement_names[WAGTAIL_PLACEMENT_CHOICES];

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int wagtail_mute(wagtail_state *s, int channel, int on);
int wagtail_muted(const wagtail_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int wagtail_garbage(const wagtail_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * WAGTAIL_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int wagtail_run(wagtail_state *s, const int32_t *const *in, int32_t *const *out, int n);

/* The same with samples side by side:
 * in[i * WAGTAIL_CHANNELS + channel] -> out[(i * WAGTAIL_CHANNELS + channel) * WAGTAIL_WAYS + way]. */
int wagtail_run_frames(wagtail_state *s, const int32_t *in, int32_t *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int wagtail_run_frames_int32(wagtail_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
