/*
 * Coefficients of "dunlin" for the engine "core". Spec SHA-256
 * f8c37e765636524f76afc56730fc49a53da092a23530c7a6f16b91c253883514
 *
 * A coefficient is an integer of 32 bits, two's complement, with 29 bits behind the point. A
 * sample is an integer of 32 bits, full scale at 2^31. Products are summed in 72 bits. A section
 * computes, in the form transposed-2,
 *
 *   y = down(b0*x + s1)
 *   s1 = s2 + b1*x - a1*y
 *   s2 = b2*x - a2*y
 *
 * down(s) = s over 2^29, rounded to the nearest, halves up, then limited to the largest and
 * smallest sample.
 * The words of a section are b0, b1, b2, a1, a2; the engine subtracts the products with a1 and a2.
 *
 * The sections of a way stand in their order, the common filters among them; gain and polarity are
 * part of them. A position with settings has a row for each choice: write the one that is chosen,
 * all five words between two samples, or while the way is muted: sections that change while signal
 * goes through click.
 *
 * What that amounts to, in the worst combination of settings: the largest error of the magnitude;
 * round-off noise, 20 Hz to 20 kHz, re a full-scale sine; the greatest sample that any input
 * within full scale can cause; the DC that rounding down leaves; samples of delay, which the
 * engine cannot make. Nothing inside clips that does not clip at the output, whatever the input;
 * or of full-scale sines only, as far as the words have room.
 *
 *   rate      way      sections  error        noise      greatest    DC  delay  clips inside
 *   48000 Hz  woofer   5         -0.00161 dB  -131 dBFS  +6.65 dBFS  -   0      never
 *   48000 Hz  tweeter  4         +0.00182 dB  -178 dBFS  +4.06 dBFS  -   3      never
 *
 * Caution: signals at full level can destroy drivers, and hearing. Start with the level turned
 * down, check which way reaches which amplifier, and keep the outputs muted until all words are
 * written.
 */
#ifndef DUNLIN_CORE_H
#define DUNLIN_CORE_H

#include <stdint.h>

/* 48000 Hz, woofer */
static const int32_t dunlin_core_48000_woofer[6][5] = {
    { 403991719, 0, 0, 0, 0 }, /* 0 common[1] low-shelf, with placement stand */
    { 402817956, -793203519, 390570842, -1054050382, 517527264 }, /* 0 common[1] low-shelf, with placement shelf */
    { 292716104, -585432208, 292716104, -1066784928, 529958801 }, /* 1 common[0] high-pass */
    { 232817, 6651388, 34254982, -848572999, 350839571 }, /* 2 ways.woofer */
    { 571398443, -1093782254, 530006943, -1018161290, 488377179 }, /* 3 ways.woofer */
    { 68462342, 31589596, -1709660, -829738245, 338786818 } /* 4 ways.woofer */
};

/* 48000 Hz, tweeter */
static const int32_t dunlin_core_48000_tweeter[5][5] = {
    { 403991719, 0, 0, 0, 0 }, /* 0 common[1] low-shelf, with placement stand */
    { 402817956, -793203519, 390570842, -1054050382, 517527264 }, /* 0 common[1] low-shelf, with placement shelf */
    { 292716104, -585432208, 292716104, -1066784928, 529958801 }, /* 1 common[0] high-pass */
    { 503737907, -1007475815, 503737907, -841926209, 347506319 }, /* 2 ways.tweeter */
    { 629031809, -1258063618, 629031809, -835521862, 341055893 } /* 3 ways.tweeter */
};

#endif
