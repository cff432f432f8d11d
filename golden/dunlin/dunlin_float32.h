/*
 * dunlin_float32.h: the loudspeaker filters of "dunlin" in single precision
 *
 * Dunlin, a two-way whose filters run in three biquad engines that are not ours (invented)
 * Revision A1
 * Spec SHA-256 f8c37e765636524f76afc56730fc49a53da092a23530c7a6f16b91c253883514
 *
 * WHAT IT DOES
 * One input channel becomes 2 ways. Every input sample passes the common filters once;
 * each way then waits for its delay, applies its gain with its polarity and its own filters:
 *
 *   out[DUNLIN_WAY_WOOFER]: woofer, 0 dB, normal polarity, sections: 4
 *   out[DUNLIN_WAY_TWEETER]: tweeter, -3 dB, normal polarity, sections: 3, samples of delay:
 *     3 at 48000 Hz
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
 * Compile dunlin_float32.c with your program, and include this header where it is used.
 *
 *   static dunlin_state filters;         all the memory that is used
 *   dunlin_init(&filters, 48000);        the rate in Hz: 48000
 *   dunlin_run(&filters, in, out, n);    n samples of every channel
 *   dunlin_set_placement(&filters, channel, DUNLIN_PLACEMENT_STAND);
 *   dunlin_mute(&filters, channel, 1);   channel 0
 *   dunlin_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. Full
 * scale is -1 to 1. The state takes 132 bytes, the arrays on the stack 274 in run and 658 in
 * run_frames. Where the compiler has vectors (x86-64, AArch64), run works on several ways at
 * once: the state takes 1156 bytes there, and run's arrays 1548. To do without, define
 * DUNLIN_NO_LANES in every file that includes this.
 * Single samples have code of their own. To do without, define DUNLIN_NO_SINGLES where
 * dunlin_float32.c is compiled: they go as blocks of one then, with the same bits in more time.
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
 *     DUNLIN_PLACEMENT_STAND   stand
 *     DUNLIN_PLACEMENT_SHELF   shelf
 * A set call may come at any time. Within 32 samples the sections with the new choice begin to
 * run beside the old ones. They settle unheard for 23 ms, then the outputs fade over to them in
 * 10 ms. A call during that waits until it is over; of several the last counts. For a steady
 * tone no output is louder during a change than before or after it. While a change lasts, up to
 * 2 sections of a channel run besides its own. To set the choice that is set already costs
 * nothing.
 *
 * SILENCE AND GARBAGE
 * After init and after a reset the outputs fade in within 10 ms, and so they do where a mute
 * ends. When the input falls silent, every section comes to an exact zero, whatever the
 * processor: numbers below the least normal one, which slow some down, come up for a moment at
 * most. An input that is no number (a NaN, an infinity) or is beyond 2^64 times full scale
 * mutes its channel at once and until it is reset; dunlin_garbage tells.
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
#ifndef DUNLIN_FLOAT32_H
#define DUNLIN_FLOAT32_H

#ifdef DUNLIN_FORMAT
#error "dunlin: include the header of one number format only; another one was included before"
#endif
#define DUNLIN_FORMAT "float32"
#define DUNLIN_SPEC_SHA256 "f8c37e765636524f76afc56730fc49a53da092a23530c7a6f16b91c253883514"

#include <stdint.h>

#define DUNLIN_CHANNELS 1
#define DUNLIN_WAYS 2
#define DUNLIN_POSITIONS 8 /* the most sections of a channel at one rate */
#define DUNLIN_THEN 2 /* the most that run twice while a setting changes */
#define DUNLIN_SWITCHES 2 /* the most that settings pick */
#define DUNLIN_DELAY_WORDS 3 /* samples that a channel remembers for the ways' delays */
#define DUNLIN_SETTINGS 1
#define DUNLIN_PLACEMENT_CHOICES 2
#define DUNLIN_MUTE 1 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum dunlin_way_index {
    DUNLIN_WAY_WOOFER = 0,
    DUNLIN_WAY_TWEETER = 1
};

/* placement */
enum dunlin_placement {
    DUNLIN_PLACEMENT_STAND = 0,
    DUNLIN_PLACEMENT_SHELF = 1
};

/* What a section remembers. */
typedef struct {
    float p;
    float q;
} dunlin_memory;

typedef struct {
    dunlin_memory now[DUNLIN_POSITIONS]; /* of what always runs, then of what settings pick */
    dunlin_memory then[DUNLIN_THEN]; /* of the sections that a change goes over to */
    float delay[DUNLIN_DELAY_WORDS];
    uint16_t list[DUNLIN_SWITCHES + 1 + DUNLIN_WAYS]; /* of what settings pick */
    int16_t change; /* samples since the change of a setting began; -1: none */
    int16_t open; /* samples of the fade from silence that are done */
    unsigned char delay_at; /* where the next sample of them goes */
    int8_t step; /* 1 while that fade runs, -1 while it runs back */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade, no change */
    unsigned char chosen[DUNLIN_SETTINGS]; /* what is heard, or what a change goes over to */
} dunlin_channel_state;

typedef struct {
    dunlin_channel_state channel[DUNLIN_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 128 */
    volatile unsigned char asked[DUNLIN_CHANNELS][DUNLIN_MUTE + 1]; /* by set and mute only */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DUNLIN_NO_LANES
    unsigned char laned; /* 1: the ways' sections stand in lanes; 2: lanes would not be faster */
    unsigned char lanes_at; /* where the first whole vector of them begins, in bytes */
    float lanes[256]; /* the sections */
#endif
} dunlin_state;

#ifdef DUNLIN_NO_LANES /* in every file or in none: otherwise the program does not link */
#define dunlin_init dunlin_init_no_lanes
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate, every setting at its first choice. No
 * channel is muted: the outputs fade in from silence. */
int dunlin_init(dunlin_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int dunlin_set_rate(dunlin_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Settings and mutes stay. */
void dunlin_reset(dunlin_state *s);
int dunlin_reset_channel(dunlin_state *s, int channel);

/* placement: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int dunlin_set_placement(dunlin_state *s, int channel, enum dunlin_placement choice);
int dunlin_get_placement(const dunlin_state *s, int channel);
extern const char dunlin_placement_names[DUNLIN_PLACEMENT_CHOICES][6];

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int dunlin_mute(dunlin_state *s, int channel, int on);
int dunlin_muted(const dunlin_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int dunlin_garbage(const dunlin_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * DUNLIN_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int dunlin_run(dunlin_state *s, const float *const *in, float *const *out, int n);

/* The same with samples side by side:
 * in[i * DUNLIN_CHANNELS + channel] -> out[(i * DUNLIN_CHANNELS + channel) * DUNLIN_WAYS + way]. */
int dunlin_run_frames(dunlin_state *s, const float *in, float *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int dunlin_run_frames_int32(dunlin_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
