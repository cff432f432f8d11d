/*
 * disc_playback_float32.h: the loudspeaker filters of "disc_playback" in single precision
 *
 * Disc playback equaliser (IEC 60098)
 * Revision 1
 * Spec SHA-256 ada0beb2583a954f69231574905413e5c83c45d1e6628a9c1fd53094bc33ef57
 *
 * WHAT IT DOES
 * One input channel becomes 1 way. Every input sample passes the common filters once;
 * each way then waits for its delay, applies its gain with its polarity and its own filters:
 *
 *   out[DISC_PLAYBACK_WAY_PLAYED]: played, 0 dB, normal polarity, sections: 3, 3, 2 (by
 *     rate)
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
 * Compile disc_playback_float32.c with your program, and include this header where it is used.
 *
 *   static disc_playback_state filters;         all the memory that is used
 *   disc_playback_init(&filters, 44100);        the rate in Hz: 44100, 48000 or 96000
 *   disc_playback_run(&filters, in, out, n);    n samples of every channel
 *   disc_playback_set_amendment(&filters, channel, DISC_PLAYBACK_AMENDMENT_WITHOUT);
 *   disc_playback_mute(&filters, channel, 1);   channel 0 to 1
 *   disc_playback_reset(&filters);              clears every state and delay
 *
 * All but reset return 0, or 1 for an unknown rate, channel or choice or a state that is not
 * initialised. In that case nothing was done and run wrote no output: mute.
 * n is any number of samples from 0 up; the output does not depend on the block size. Full
 * scale is -1 to 1. The state takes 116 bytes, the arrays on the stack 260 in run and 516 in
 * run_frames. Where the compiler has vectors (x86-64, AArch64), run works on several ways at
 * once: the state takes 984 bytes there, and run's arrays 1792. To do without, define
 * DISC_PLAYBACK_NO_LANES in every file that includes this.
 * Single samples have code of their own. To do without, define DISC_PLAYBACK_NO_SINGLES where
 * disc_playback_float32.c is compiled: they go as blocks of one then, with the same bits in
 * more time.
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
 *   amendment
 *     DISC_PLAYBACK_AMENDMENT_WITHOUT   without
 *     DISC_PLAYBACK_AMENDMENT_WITH      with
 * A set call may come at any time. Within 32 samples the sections with the new choice begin to
 * run beside the old ones. They settle unheard for 163 ms, then the outputs fade over to them
 * in 10 ms. A call during that waits until it is over; of several the last counts. For a steady
 * tone no output is louder during a change than before or after it. While a change lasts, up to
 * 1 sections of a channel run besides its own. To set the choice that is set already costs
 * nothing.
 *
 * SILENCE AND GARBAGE
 * After init and after a reset the outputs fade in within 10 ms, and so they do where a mute
 * ends. When the input falls silent, every section comes to an exact zero, whatever the
 * processor: numbers below the least normal one, which slow some down, come up for a moment at
 * most. An input that is no number (a NaN, an infinity) or is beyond 2^64 times full scale
 * mutes its channel at once and until it is reset; disc_playback_garbage tells.
 *
 * LEVELS
 * The input is attenuated by 20 dB (times 0.1), headroom for the filters' boosts. Add 20 dB of
 * make-up gain after the converters. Floating-point outputs are not limited: limit them before
 * conversion to a converter's word length.
 *
 * CAUTION
 * - Signals at full level can destroy drivers in an instant, and hearing with them. Start with
 *   the level turned down, and with protection in series with a tweeter.
 * - Check that the outputs stay muted at power-up, at reset and whenever a call returns 1.
 * - Check which way reaches which amplifier before anything is loud: the wrong one sends bass
 *   to a treble driver.
 * - Where mains voltage is involved, follow local codes; that work is for licensed people.
 */
#ifndef DISC_PLAYBACK_FLOAT32_H
#define DISC_PLAYBACK_FLOAT32_H

#ifdef DISC_PLAYBACK_FORMAT
#error "disc_playback: include the header of one number format only; another one was included before"
#endif
#define DISC_PLAYBACK_FORMAT "float32"
#define DISC_PLAYBACK_SPEC_SHA256 "ada0beb2583a954f69231574905413e5c83c45d1e6628a9c1fd53094bc33ef57"

#include <stdint.h>

#define DISC_PLAYBACK_CHANNELS 2
#define DISC_PLAYBACK_WAYS 1
#define DISC_PLAYBACK_POSITIONS 3 /* the most sections of a channel at one rate */
#define DISC_PLAYBACK_THEN 1 /* the most that run twice while a setting changes */
#define DISC_PLAYBACK_SWITCHES 1 /* the most that settings pick */
#define DISC_PLAYBACK_SETTINGS 1
#define DISC_PLAYBACK_AMENDMENT_CHOICES 2
#define DISC_PLAYBACK_MUTE 1 /* among what is asked of a channel: behind its settings */

/* The outputs of a channel, in their order. */
enum disc_playback_way_index {
    DISC_PLAYBACK_WAY_PLAYED = 0
};

/* amendment */
enum disc_playback_amendment {
    DISC_PLAYBACK_AMENDMENT_WITHOUT = 0,
    DISC_PLAYBACK_AMENDMENT_WITH = 1
};

/* What a section remembers. */
typedef struct {
    float p;
    float q;
} disc_playback_memory;

typedef struct {
    disc_playback_memory now[DISC_PLAYBACK_POSITIONS]; /* of what always runs, then of what settings pick */
    disc_playback_memory then[DISC_PLAYBACK_THEN]; /* of the sections that a change goes over to */
    uint16_t list[DISC_PLAYBACK_SWITCHES + 1 + DISC_PLAYBACK_WAYS]; /* of what settings pick */
    int16_t change; /* samples since the change of a setting began; -1: none */
    int16_t open; /* samples of the fade from silence that are done */
    int8_t step; /* 1 while that fade runs, -1 while it runs back */
    unsigned char fresh; /* nothing ran since the reset */
    unsigned char dead; /* a sample was garbage */
    unsigned char calm; /* none of this, no fade, no change; 2: the next channel is alike */
    unsigned char chosen[DISC_PLAYBACK_SETTINGS]; /* what is heard, or what a change goes over to */
} disc_playback_channel_state;

typedef struct {
    disc_playback_channel_state channel[DISC_PLAYBACK_CHANNELS];
    uint32_t ready; /* with check: initialised */
    uint32_t check;
    int32_t rate; /* the row of the table of rates */
    uint32_t count; /* samples since the start, up to 128 */
    volatile unsigned char asked[DISC_PLAYBACK_CHANNELS][DISC_PLAYBACK_MUTE + 1]; /* by set and mute only */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DISC_PLAYBACK_NO_LANES
    unsigned char laned; /* 1: the ways' sections stand in lanes; 2: lanes would not be faster */
    unsigned char lanes_at; /* where the first whole vector of them begins, in bytes */
    float lanes[216]; /* the sections */
#endif
} disc_playback_state;

#ifdef DISC_PLAYBACK_NO_LANES /* in every file or in none: otherwise the program does not link */
#define disc_playback_init disc_playback_init_no_lanes
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Makes the state ready for a sampling rate, every setting at its first choice. No
 * channel is muted: the outputs fade in from silence. */
int disc_playback_init(disc_playback_state *s, uint32_t rate_hz);

/* Goes over to another rate: like init, but settings and mutes stay. */
int disc_playback_set_rate(disc_playback_state *s, uint32_t rate_hz);

/* Silence in every section and delay line, of all channels or of one; then the outputs fade in.
 * Settings and mutes stay. */
void disc_playback_reset(disc_playback_state *s);
int disc_playback_reset_channel(disc_playback_state *s, int channel);

/* amendment: asks for a choice, and tells the one that was asked for last (-1 where that cannot
 * be). The names are the spec's, for menus. */
int disc_playback_set_amendment(disc_playback_state *s, int channel, enum disc_playback_amendment choice);
int disc_playback_get_amendment(const disc_playback_state *s, int channel);
extern const char disc_playback_amendment_names[DISC_PLAYBACK_AMENDMENT_CHOICES][8];

/* Fades a channel to silence (on is not 0), or back; and whether that is asked for. */
int disc_playback_mute(disc_playback_state *s, int channel, int on);
int disc_playback_muted(const disc_playback_state *s, int channel);

/* 1 where a sample of the channel was garbage: it is silent until it is reset. */
int disc_playback_garbage(const disc_playback_state *s, int channel);

/* Filters n samples of all channels: in[channel][i] -> out[channel * DISC_PLAYBACK_WAYS + way][i].
 * in[channel] may be the same array as an output of that channel; otherwise no two may overlap. */
int disc_playback_run(disc_playback_state *s, const float *const *in, float *const *out, int n);

/* The same with samples side by side:
 * in[i * DISC_PLAYBACK_CHANNELS + channel] -> out[(i * DISC_PLAYBACK_CHANNELS + channel) * DISC_PLAYBACK_WAYS + way]. */
int disc_playback_run_frames(disc_playback_state *s, const float *in, float *out, int n);

/* And with 32-bit samples, as converters have them; outputs beyond full scale are limited. */
int disc_playback_run_frames_int32(disc_playback_state *s, const int32_t *in, int32_t *out, int n);

#ifdef __cplusplus
}
#endif

#endif
