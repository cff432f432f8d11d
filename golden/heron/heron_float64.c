/*
 * heron_float64.c: the loudspeaker filters of "heron", tables and code
 * Spec SHA-256 749a0ecc317b8edad31dca10cf8987c5bc35bb68c2e7a6660ab2b71a33f28209
 *
 * Compile this file with the program; heron_float64.h tells all about it.
 *
 * MISRA C:2012, deviations from required and advisory rules:
 *   5.5         without lanes init has another name, so that files that disagree do not link
 *   8.9         tables beside what they belong to
 *   9.3         names that are shorter than the longest of their setting end in zeros
 *   10.8        int, int32_t and uint32_t meet where the values are small and known
 *   12.1        products in sums without parentheses: as the formulas are written
 *   12.2, 18.4  words of lists are shifted, and pointers step through lists and frames
 *   14.1        none: a loop's counter is a pointer to a sample, which checkers take for the sample
 *   15.5        what is refused returns at once
 *   17.8        pointers and counts that a function steps through are its parameters
 *   2.4, 2.5    tags and macros that only some programs use
 *   20.5        #undef, so that nothing is left behind
 *   20.9, 21.15 names that a compiler defines or not; memcpy from a number to its bits
 * and in lanes, samples side by side, which are compiled for hosts alone:
 *   2.2, 2.3    lanes are counted from 0; types that only some vectors, or only sizes, need
 *   10.3, 10.6  marks are what comparisons of vectors give; lengths are small
 *   11.4, 11.5  room for vectors begins at a multiple of their size
 *   14.2        a step of a loop takes as many sections as are left of its kind
 *   19.2        a vector and its samples share their bytes
 */
#include "heron_float64.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || DBL_MANT_DIG != 53)
#error "heron: double must be an IEEE 754 number of 64 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 1 && FLT_EVAL_METHOD != 16)
#error "heron: double must be computed as double; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "heron: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
#endif

/* No product may be fused with a sum and no sum reordered, whatever the compiler's own setting
 * is: every compiler and processor then gives the same bits. What nothing here can refuse or
 * undo: clang's -ffp-contract=fast; -fassociative-math of clang before 13; a rounding mode other
 * than to nearest; and numbers below the least normal one that are flushed to zero, a mode of the
 * processor that gcc and clang turn on where -ffast-math, -Ofast or -funsafe-math-optimizations
 * is given to the link. */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#if defined __OPTIMIZE__ && !defined __OPTIMIZE_SIZE__
#pragma GCC optimize("O2") /* at -O3 it would grow, and gain nothing */
#endif
#pragma GCC optimize("fp-contract=off", "no-associative-math")
#define HERON_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define HERON_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define HERON_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif

/* To run at fewer rates, define HERON_ONLY_ with the rate for each that shall stay. */
#if !(defined HERON_ONLY_48000 || defined HERON_ONLY_96000)
#define HERON_ONLY_48000
#define HERON_ONLY_96000
#endif

/* Single samples have code of their own, which HERON_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block and not in lanes: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define HERON_NOINLINE __attribute__((noinline))
#define HERON_COLD __attribute__((noinline, cold))
#define HERON_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define HERON_NOINLINE
#define HERON_COLD
#define HERON_INLINE inline
#endif
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined HERON_NO_LANES
#define HERON_SMALL HERON_NOINLINE
#else
#define HERON_SMALL HERON_COLD
#endif
#ifdef HERON_NO_SINGLES
#define HERON_BLOCKS HERON_NOINLINE
#else
#define HERON_BLOCKS HERON_SMALL
#endif

#define HERON_READY 0x7252741cu /* of this spec in this format */
#define HERON_CHECK 0xa555a90du
#define HERON_TICK 32u /* samples between two looks at what is asked for */
#define HERON_REST 128u /* and between two looks for sections that have come to rest */
#define HERON_HISTORY 9 /* samples of the blocks before that stand in front of one */
/* heron_bits without the sign, << 1, of what is no sample. */
#define HERON_GARBAGE 0x87e00000u

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 2 delta without b1 and b2, 3 delta)
 * and how many they are; 0 is the end. */
#define HERON_ROW 0x7ffu
#define HERON_HEAD 11 /* bits below */
#define HERON_ONE_MORE (1u << 13)
#define HERON_FULL 0x6000u /* from there on a pass takes no more */
#define HERON_NONE 255u /* the alternative that changes nothing and has no row */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef HERON_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    double b0;
    double b1;
    double b2;
    double a1;
    double a2;
} heron_section_words;
#endif

typedef struct {
    unsigned char word; /* among the lists: that for its first alternative */
    unsigned char pick; /* of heron_pick_table: the alternative of every combination */
    unsigned char stride[HERON_SETTINGS]; /* of each setting's choices */
} heron_switch_entry;

typedef struct {
    double gain; /* with the polarity as sign */
    unsigned char delay; /* samples that a way is late, the common part's too; there the longest */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
    int8_t split; /* of what settings pick, behind that of all that always runs */
    int8_t first; /* the first position of that */
    int8_t end; /* behind the last; what runs beside has memory from first on */
#ifndef HERON_NO_SINGLES
    uint16_t forms; /* of what always runs, 1 bit a section, the first in the highest */
#endif
} heron_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const double *sections; /* rows of words */
    const uint16_t *lists; /* words for what settings pick, then the lists of what always runs */
    int16_t settle; /* samples that new sections run unheard */
    int16_t fade; /* samples of a fade */
    double step; /* 1 / fade */
    heron_cascade_entry cascade[1 + HERON_WAYS]; /* common, then the ways */
} heron_rate_entry;

static const unsigned char heron_pick_table[3] = {
    255u, 0u, 1u
};

/* Which of the switches below each position is that settings change, at every rate. */
static const unsigned char heron_position_table[7] = {
    0u, 1u, 0u, 1u, 2u, 0u, 1u
};
static const heron_switch_entry heron_switch_table[3] = {
    { 0u, 0u, { 1u, 0u, 0u } },
    { 2u, 0u, { 0u, 1u, 0u } },
    { 3u, 0u, { 0u, 0u, 1u } }
};

/* b0, b1, b2, a1, a2 of every section. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef HERON_ONLY_48000
static const double heron_sections_48000[80] = {
    /* 48000 Hz, common 0: common[0] high-pass, poles at 22 Hz, Q 0.707; direct, -222 dB */
    0.9979657505491978, -1.9959315010983956, 0.9979657505491978,
      -1.9959273629301721, 0.9959356392689693,
    /* 48000 Hz, bass 0: crossovers[0] low-pass, poles at 249.9 Hz, Q 0.711; direct, -277 dB */
    0.0005582033884693667, 0.002415646139441917, -0.0019285786034225981,
      -1.9540107838845882, 0.9550561362519862,
    /* 48000 Hz, bass 1: ways.bass.filters[1] peak, poles at 92.03 Hz, Q 1.91; direct, -240 dB */
    1.0026427150151151, -2.0004046979746835, 0.9979070967162055,
      -1.9935657897448413, 0.9937104547586905,
    /* 48000 Hz, bass 2: ways.bass.filters[0] pole-shift, poles at 33.93 Hz, Q 0.651; direct, */
    /* -241 dB */
    0.42281394663814614, -0.8418010807074514, 0.41900958252374726,
      -1.9931760305829156, 0.9931956910311204,
    /* 48000 Hz, bass 3: crossovers[0] low-pass, poles at 270.7 Hz, Q 0.707; direct, -262 dB */
    0.012958791129620846, -0.029017236083543126, 0.01893637395989756,
      -1.9499124332246376, 0.9511368088157249,
    /* 48000 Hz, mid 0: crossovers[0] high-pass, poles at 259.5 Hz, Q 0.728; direct, -272 dB */
    1.0064225096629782, -2.0128450193259564, 1.0064225096629782,
      -1.9532820904153834, 0.9544094271550276,
    /* 48000 Hz, mid 1: crossovers[0] high-pass, poles at 260.5 Hz, Q 0.685; direct, -275 dB */
    1.040815330008341, -2.081630660016682, 1.040815330008341,
      -1.9503191335319003, 0.9514531950388401,
    /* 48000 Hz, mid 2: ways.mid.filters[0] dipole-lift, poles at 191.2 Hz and half the rate; */
    /* direct, -307 dB */
    0.024186421438606432, 0.05328141570419482, 0.019275937844604935,
      -0.48925149954301794, -0.47401439826473823,
    /* 48000 Hz, mid 3: crossovers[1].low low-pass, poles at 2.231 kHz, Q 0.708; direct, -298 dB */
    0.02572457099335866, 0.748913434090229, -0.7236402948457026,
      -1.59257741627738, 0.6619598078538966,
    /* 48000 Hz, mid 4: crossovers[1].low low-pass, poles at 2.372 kHz, Q 0.709; direct, -306 dB */
    0.08729810031721809, 0.008673621867667652, -0.0002481777335556906,
      -1.5678201320018184, 0.6452290816377109,
    /* 48000 Hz, treble 0: crossovers[1].high high-pass, poles at 2.306 kHz, Q 0.697; direct, */
    /* -302 dB */
    0.8057469276543421, -1.6114938553086842, 0.8057469276543421,
      -1.5750687750216121, 0.6484895710538076,
    /* 48000 Hz, treble 1: crossovers[1].high high-pass, poles at 2.293 kHz, Q 0.717; direct, */
    /* -303 dB */
    0.8107270278622962, -1.6214540557245924, 0.8107270278622962,
      -1.5849405572702246, 0.6580331515059505,
    /* 48000 Hz, bass, mid and treble: by choice; direct, -268 dB */
    /* placement wall: common[1] low-shelf, poles at 228.9 Hz, Q 0.700 */
    0.9966112506132827, -1.9573398727739655, 0.9613509484297525,
      -1.9572130475039156, 0.9580921066275986,
    /* placement corner: common[2] low-shelf, poles at 285.2 Hz, Q 0.700 */
    0.9922426310448612, -1.9470349118214259, 0.9554726046458597,
      -1.9467004284964258, 0.9480578526947708,
    /* placement free: straight through */
    /* 48000 Hz, bass, mid and treble: by choice; direct, -318 dB */
    /* grille woven: common[3] high-shelf, poles at 7.204 kHz, Q 0.697 */
    1.0979750154030814, -0.9558222422337974, 0.3110662305655511,
      -0.8050818069252648, 0.25827318002849164,
    /* grille none: straight through */
    /* 48000 Hz, treble 2: by choice; constant, -327 dB */
    0.8413951416451951, 0.0, 0.0,
      0.0, 0.0 /* treble-trim -1.5 dB: ways.treble.filters[0] gain, -1.5 dB */
    /* treble-trim 0 dB: straight through */
};
static const uint16_t heron_lists_48000[14] = {
    10300u, 10305u, 10310u, 10315u, 10240u, 0u, 10245u, 26634u, 0u, 18457u, 26659u, 0u, 18482u, 0u
};
#endif

#ifdef HERON_ONLY_96000
static const double heron_sections_96000[80] = {
    /* 96000 Hz, common 0: common[0] high-pass, poles at 22 Hz, Q 0.707; direct, -220 dB */
    0.9989823574763852, -1.9979647149527704, 0.9989823574763852,
      -1.9979636793566375, 0.9979657505490703,
    /* 96000 Hz, bass 0: crossovers[0] low-pass, poles at 259.9 Hz, Q 0.707; direct, -266 dB */
    0.0010102462362496924, -0.002331238551894892, 0.0016069651902950273,
      -1.975937957825319, 0.9762239240080667,
    /* 96000 Hz, bass 1: ways.bass.filters[1] peak, poles at 92 Hz, Q 1.91; direct, -226 dB */
    1.002715894593654, -2.00302172677936, 1.0003421447587688,
      -1.9968081796332753, 0.9968443796571106,
    /* 96000 Hz, bass 2: ways.bass.filters[0] pole-shift, poles at 34 Hz, Q 0.650; direct, -211 */
    /* dB */
    0.42433995098703264, -0.8467652755870291, 0.4224309717904986,
      -1.9965772778484487, 0.9965822213864818,
    /* 96000 Hz, bass 3: crossovers[0] low-pass, poles at 260.1 Hz, Q 0.707; direct, -254 dB */
    3.6576068581568704e-05, 0.0017423864320741612, -0.0011061068243099893,
      -1.9759331630158485, 0.9762194215264969,
    /* 96000 Hz, mid 0: crossovers[1].low low-pass, poles at 2.302 kHz, Q 0.706; direct, -295 dB */
    4.448320136057003e-05, 0.0014514996171473829, 0.01892032140374213,
      -1.7873847502693228, 0.8077844830243981,
    /* 96000 Hz, mid 1: crossovers[0] high-pass, poles at 258.6 Hz, Q 0.708; direct, -252 dB */
    1.0414619340486673, -2.0829238680973345, 1.0414619340486673,
      -1.9760852875720094, 0.976368367905515,
    /* 96000 Hz, mid 2: ways.mid.filters[0] dipole-lift, poles at 190 Hz and 46.02 kHz; direct, */
    /* -281 dB */
    0.40425515928648664, -0.0998217720908271, -0.28204036842990193,
      -1.0368234950188846, 0.04857115536993422,
    /* 96000 Hz, mid 3: crossovers[0] high-pass, poles at 261.4 Hz, Q 0.707; direct, -263 dB */
    1.044661459229107, -2.089322918458214, 1.044661459229107,
      -1.9757872900507798, 0.9760764919661783,
    /* 96000 Hz, mid 4: crossovers[1].low low-pass, poles at 2.298 kHz, Q 0.708; direct, -297 dB */
    0.02612858700950642, -0.0009509387704005265, 7.308668820399378e-06,
      -1.7883549920614812, 0.8087007254843012,
    /* 96000 Hz, treble 0: crossovers[1].high high-pass, poles at 2.299 kHz, Q 0.709; direct, */
    /* -291 dB */
    0.8992230798931247, -1.7984461597862493, 0.8992230798931247,
      -1.7885514872751271, 0.8089056164141696,
    /* 96000 Hz, treble 1: crossovers[1].high high-pass, poles at 2.301 kHz, Q 0.705; direct, */
    /* -294 dB */
    0.8988255900235703, -1.7976511800471406, 0.8988255900235703,
      -1.787196423098519, 0.8075871991497591,
    /* 96000 Hz, bass, mid and treble: by choice; direct, -253 dB */
    /* placement wall: common[1] low-shelf, poles at 228.9 Hz, Q 0.700 */
    0.9983040307325777, -1.9786316316988795, 0.9804848571507847,
      -1.978599625782188, 0.9788217560457013,
    /* placement corner: common[2] low-shelf, poles at 285.2 Hz, Q 0.700 */
    0.9961133498275319, -1.9734232975238417, 0.9774823124999745,
      -1.973338663669336, 0.9736825766618091,
    /* placement free: straight through */
    /* 96000 Hz, bass, mid and treble: by choice; direct, -308 dB */
    /* grille woven: common[3] high-shelf, poles at 7.246 kHz, Q 0.700 */
    1.122558065397629, -1.5587345012980034, 0.5965118596850701,
      -1.3475504617282483, 0.5078857894496982,
    /* grille none: straight through */
    /* 96000 Hz, treble 2: by choice; constant, -327 dB */
    0.8413951416451951, 0.0, 0.0,
      0.0, 0.0 /* treble-trim -1.5 dB: ways.treble.filters[0] gain, -1.5 dB */
    /* treble-trim 0 dB: straight through */
};
static const uint16_t heron_lists_96000[14] = {
    10300u, 10305u, 10310u, 10315u, 10240u, 0u, 10245u, 26634u, 0u, 18457u, 26659u, 0u, 18482u, 0u
};
#endif

#ifdef HERON_NO_SINGLES
#define HERON_FORMS(forms)
#else
#define HERON_FORMS(forms) , (forms)
#endif

static const heron_rate_entry heron_rate_table[] = {
#ifdef HERON_ONLY_48000
    { 48000u, heron_sections_48000, heron_lists_48000, 960, 480, 0.0020833333333333333, {
        { 0.5011872336272724, 4u, 4, 0, 12, 0, 0 HERON_FORMS(0x8000u) }, /* common */
        { 0.6309573444801932, 0u, 6, 1, 12, 0, 2 HERON_FORMS(0xf000u) }, /* bass */
        { 1.0, 0u, 9, 5, 14, 2, 4 HERON_FORMS(0xf800u) }, /* mid */
        { 0.8413951416451951, 4u, 12, 10, 16, 4, 7 HERON_FORMS(0xc000u) } /* treble */
    } },
#endif
#ifdef HERON_ONLY_96000
    { 96000u, heron_sections_96000, heron_lists_96000, 1920, 960, 0.0010416666666666667, {
        { 0.5011872336272724, 9u, 4, 0, 12, 0, 0 HERON_FORMS(0x8000u) }, /* common */
        { 0.6309573444801932, 0u, 6, 1, 12, 0, 2 HERON_FORMS(0xf000u) }, /* bass */
        { 1.0, 0u, 9, 5, 14, 2, 4 HERON_FORMS(0xf800u) }, /* mid */
        { 0.8413951416451951, 9u, 12, 10, 16, 4, 7 HERON_FORMS(0xc000u) } /* treble */
    } },
#endif
};

#define HERON_RATES ((int32_t)(sizeof heron_rate_table / sizeof heron_rate_table[0]))

const char heron_placement_names[HERON_PLACEMENT_CHOICES][7] = {
    "free",
    "wall",
    "corner"
};

const char heron_grille_names[HERON_GRILLE_CHOICES][6] = {
    "none",
    "woven"
};

const char heron_treble_trim_names[HERON_TREBLE_TRIM_CHOICES][8] = {
    "0 dB",
    "-1.5 dB"
};

/* ---- filters -------------------------------------------------------------------------- */

/* The first bits of x: without the sign they grow with its size. */
static inline uint32_t heron_bits(double x)
{
    uint64_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return (uint32_t)(bits >> 32);
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline double heron_from_int32(int32_t x)
{
    return (double)x * (double)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t heron_to_int32(double x)
{
    const double scaled = x * (double)2147483648.0;
    const double above = scaled > (double)-2147483648.0 ? scaled : (double)-2147483648.0;
    const double inside = above < (double)2147483647.0 ? above : (double)0;
    const int32_t whole = (int32_t)inside;
    const double rest = inside - (double)whole;
    const int32_t near = whole + (int32_t)(rest + rest); /* 1 from a half on */

    return above < (double)2147483647.0 ? near : INT32_MAX;
}

/* gain times n samples, and the sections of a list over them: from -> to, which may be the same.
 * Each pass takes samples through up to 3 sections of one form; between them everything is
 * in registers. Those that begin no list have no gain; an empty list is the gain alone. n is not 0.
 * What returns is where the next list begins. */
static HERON_NOINLINE const uint16_t * heron_run_list(const double *table,
        const uint16_t *list, heron_memory *m, double gain, const double *from, double *to, int n)
{
    HERON_AS_WRITTEN
    const double *const end = &to[n];
    unsigned int word = *list;

    if (word == 0u) {
        do {
            *to = gain * *from;
            from++;
            to++;
        } while (to != end);
        return list + 1;
    }
    do {
        const double *const w = &table[word & HERON_ROW];
        const unsigned int head = word >> HERON_HEAD;
        double *at = to;
        const double b0_0 = w[0];
        const double b1_0 = w[1];
        const double b2_0 = w[2];
        const double a1_0 = w[3];
        const double a2_0 = w[4];
        double p_0 = m[0].p;
        double q_0 = m[0].q;

        switch (head) {
        case 5u: { /* direct, 1 */
            do {
                const double x = gain * *from;
                const double y_0 = b0_0 * x + p_0;
                p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
                q_0 = b2_0 * x - a2_0 * y_0;
                *at = y_0;
                from++;
                at++;
            } while (at != end);
            break;
        }
        case 9u: { /* direct, 2 */
            const double b0_1 = w[5];
            const double b1_1 = w[6];
            const double b2_1 = w[7];
            const double a1_1 = w[8];
            const double a2_1 = w[9];
            double p_1 = m[1].p;
            double q_1 = m[1].q;

            do {
                const double x = gain * *from;
                const double y_0 = b0_0 * x + p_0;
                p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
                q_0 = b2_0 * x - a2_0 * y_0;
                const double y_1 = b0_1 * y_0 + p_1;
                p_1 = (q_1 + b1_1 * y_0) - a1_1 * y_1;
                q_1 = b2_1 * y_0 - a2_1 * y_1;
                *at = y_1;
                from++;
                at++;
            } while (at != end);
            m[1].p = p_1;
            m[1].q = q_1;
            break;
        }
        case 13u: { /* direct, 3 */
            const double b0_1 = w[5];
            const double b1_1 = w[6];
            const double b2_1 = w[7];
            const double a1_1 = w[8];
            const double a2_1 = w[9];
            double p_1 = m[1].p;
            double q_1 = m[1].q;
            const double b0_2 = w[10];
            const double b1_2 = w[11];
            const double b2_2 = w[12];
            const double a1_2 = w[13];
            const double a2_2 = w[14];
            double p_2 = m[2].p;
            double q_2 = m[2].q;

            do {
                const double x = *from;
                const double y_0 = b0_0 * x + p_0;
                p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
                q_0 = b2_0 * x - a2_0 * y_0;
                const double y_1 = b0_1 * y_0 + p_1;
                p_1 = (q_1 + b1_1 * y_0) - a1_1 * y_1;
                q_1 = b2_1 * y_0 - a2_1 * y_1;
                const double y_2 = b0_2 * y_1 + p_2;
                p_2 = (q_2 + b1_2 * y_1) - a1_2 * y_2;
                q_2 = b2_2 * y_1 - a2_2 * y_2;
                *at = y_2;
                from++;
                at++;
            } while (at != end);
            m[1].p = p_1;
            m[1].q = q_1;
            m[2].p = p_2;
            m[2].q = q_2;
            break;
        }
        default:
            /* there are no others */
            break;
        }
        m[0].p = p_0;
        m[0].q = q_0;
        from = to;
        gain = 1.0;
        m += head >> 2;
        list++;
        word = *list;
    } while (word != 0u);
    return list + 1;
}

/* What ways hear late stands in front of now: the last samples of the blocks before, as many as the
 * longest delay has. */
static void heron_recall(const heron_rate_entry *rate, const heron_channel_state *ch,
        double *now)
{
    const int span = (int)rate->cascade[0].delay;
    const int k = (int)ch->delay_at;

    (void)memcpy(&now[-span], &ch->delay[k], (size_t)(span - k) * sizeof *now);
    (void)memcpy(&now[-k], ch->delay, (size_t)k * sizeof *now);
}

/* The last of n samples of now are remembered, and what is in front of them, the oldest first. */
static void heron_remember(const heron_rate_entry *rate, heron_channel_state *ch,
        const double *now, int n)
{
    const int span = (int)rate->cascade[0].delay;

    (void)memcpy(ch->delay, &now[n - span], (size_t)span * sizeof *now);
    ch->delay_at = 0u;
}

/* n samples of a fade, from its sample from on: from io to other, or where there is no other from
 * silence to io; way is 1, or -1 to go back. */
static HERON_COLD void heron_fade(double *io, const double *other, double step,
        int32_t from, int32_t way, int n)
{
    HERON_AS_WRITTEN
    int i;

    for (i = 0; i < n; i++) {
        const double at = (double)(from + (way * i));
        const double u = at * step;
        const double w = ((u * u) * u) * (u * (6.0 * u - 15.0) + 10.0);

        if (other != NULL) {
            io[i] = io[i] + w * (other[i] - io[i]);
        } else {
            io[i] = w * io[i];
        }
    }
}

/* The list of what the choices pick, of cascade c. What returns is where the next one begins. */
static HERON_COLD uint16_t *heron_make_list(const heron_rate_entry *rate,
        const heron_channel_state *ch, int c, uint16_t *list)
{
    const heron_cascade_entry *cascade = &rate->cascade[c];
    uint16_t *next = list;
    unsigned int follows = 0u; /* the word of the row behind the last one, of the same form */
    int k;
    int i;

    for (k = cascade->first; k < cascade->end; k++) {
        const heron_switch_entry *choices = &heron_switch_table[heron_position_table[k]];
        unsigned int pick = choices->pick;
        unsigned int alternative;

        for (i = 0; i < HERON_SETTINGS; i++) {
            pick += (unsigned int)choices->stride[i] * ch->chosen[i];
        }
        alternative = heron_pick_table[pick];
        if (alternative != HERON_NONE) {
            const unsigned int word = rate->lists[choices->word + alternative];

            if (word == follows && next != list && next[-1] < HERON_FULL) { /* one more */
                next[-1] = (uint16_t)(next[-1] + HERON_ONE_MORE);
            } else {
                *next = (uint16_t)word;
                next++;
            }
            follows = word + 5u;
        }
    }
    *next = 0u;
    return next + 1;
}

/* What cascade c goes over to while a setting changes, over n samples: io, behind what always
 * runs, -> beside. */
static HERON_COLD void heron_run_beside(const heron_rate_entry *rate,
        heron_channel_state *ch, int c, const double *io, double *beside, int n)
{
    const heron_cascade_entry *cascade = &rate->cascade[c];
    uint16_t list[HERON_SWITCHES + 1];
    (void)heron_make_list(rate, ch, c, list);
    (void)heron_run_list(rate->sections, list, &ch->then[cascade->first],
        1.0, io, beside, n);
}

/* Gain and sections of cascade c over n samples, from -> io. What returns is where
 * the list of what settings pick begins of the next one. */
static inline const uint16_t * heron_run_cascade(const heron_rate_entry *rate,
        heron_channel_state *ch, int c, const uint16_t *picked,
        const double *from, double *io, double *beside, int n)
{
    const heron_cascade_entry *cascade = &rate->cascade[c];

    (void)heron_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        cascade->gain, from, io, n);
    if (ch->change >= 0 && cascade->end > cascade->first) {
        heron_run_beside(rate, ch, c, io, beside, n);
    }
    return *picked == 0u ? picked + 1
        : heron_run_list(rate->sections, picked, &ch->now[cascade->split],
            1.0, io, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int heron_run_common(const heron_rate_entry *rate, heron_channel_state *ch,
        const double *in, double *now, int n)
{
    HERON_AS_WRITTEN
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= heron_bits(in[i]);
    }
    if ((sizes << 1) >= HERON_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (heron_bits(in[good]) << 1) < HERON_GARBAGE) {
            good++;
        }
        if (good < n) {
            ch->dead = 1u;
            ch->calm = 0u;
        }
    }
    heron_recall(rate, ch, now);
    if (good > 0) {
        (void)heron_run_list(rate->sections, &rate->lists[rate->cascade[0].list],
            &ch->now[rate->cascade[0].from], rate->cascade[0].gain, in, now, good);
    }
    return good;
}

/* A way that is not calm: fades, and silence behind good samples. */
static HERON_COLD void heron_shade(const heron_rate_entry *rate,
        const heron_channel_state *ch, const heron_cascade_entry *cascade,
        double *io, const double *beside, int good, int n)
{
    int heard = good;
    int i;
    if (ch->change >= rate->settle && cascade->end > cascade->first) {
        heron_fade(io, beside, rate->step, ch->change - rate->settle, 1, good);
    }
    if (ch->step != 0) {
        heron_fade(io, NULL, rate->step, ch->open, ch->step, good);
    } else if (ch->open == 0) {
        heard = 0;
    } else {
        /* fully open */
    }
    for (i = heard; i < n; i++) {
        io[i] = 0.0;
    }
}

/* The ways over n samples of one channel: good samples of now -> out[way][at + i], then silence. */
static void heron_run_ways(const heron_rate_entry *rate, heron_channel_state *ch,
        const double *now, int good, double *const *out, int at, int n)
{
    double beside[HERON_TICK];
    const uint16_t *picked = &ch->list[1]; /* behind that of the common part, which is empty */
    int c;

    for (c = 1; c <= HERON_WAYS; c++) {
        const heron_cascade_entry *cascade = &rate->cascade[c];
        double *io = &out[c - 1][at];
        const double *from = &now[-(int)cascade->delay];

        if (good > 0) {
            picked = heron_run_cascade(rate, ch, c, picked, from, io, beside, good);
        }
        if (ch->calm == 0u) {
            heron_shade(rate, ch, &rate->cascade[c], io, beside, good, n);
        }
    }
    if (ch->calm == 0u) {
        if (ch->change >= 0) {
            ch->change = (int16_t)(ch->change + n);
        }
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
    heron_remember(rate, ch, now, good);
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static HERON_NOINLINE void heron_run_block(const heron_rate_entry *rate, heron_channel_state *ch,
        const double *in, double *const *out, int at, int n)
{
    double block[HERON_HISTORY + (int)HERON_TICK];
    double *const now = &block[HERON_HISTORY];
    int good;
    good = heron_run_common(rate, ch, in, now, n);
    heron_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef HERON_NO_SINGLES

/* The words of a row, and the next row is next. */
static HERON_INLINE void heron_row_5(const double **w, heron_section_words *row)
{
    row->b0 = (*w)[0];
    row->b1 = (*w)[1];
    row->b2 = (*w)[2];
    row->a1 = (*w)[3];
    row->a2 = (*w)[4];
    *w += 5;
}

/* What a section of channel 0 of two remembers. */
static inline heron_memory heron_load_0(const heron_memory *m)
{
    return *m;
}

/* What it shall remember, and the next section is next. */
static inline void heron_keep_0(heron_memory **m, heron_memory is)
{
    **m = is;
    *m += 1;
}

/* What a section of channel 1 of two remembers. */
static inline heron_memory heron_load_1(const heron_memory *m)
{
    return *m;
}

/* What it shall remember, and the next section is next. */
static inline void heron_keep_1(heron_memory **m, heron_memory is)
{
    **m = is;
    *m += 1;
}
/* A row of the table. */
static HERON_COLD const double *heron_row_at(const heron_rate_entry *rate,
        unsigned int row)
{
    return &rate->sections[row];
}

/* One sample of two channels that are calm and alike: x -> out[way][0].
 * What always runs of all cascades stands in the order in which it runs, rows as well as memory. */
static inline void heron_step(const heron_rate_entry *rate,
        heron_channel_state *ch_0, heron_channel_state *ch_1, double x_0, double x_1,
        double *const *out_0, double *const *out_1)
{
    HERON_AS_WRITTEN
    const heron_cascade_entry *cascade = &rate->cascade[0];
    const heron_cascade_entry *stop = &rate->cascade[HERON_WAYS];
    const double *w = rate->sections;
    heron_memory *m_0 = ch_0->now;
    heron_memory *m_1 = ch_1->now;
    const uint16_t *picked = ch_0->list;
    const double *always = w; /* the next row of what always runs, while others are picked */
    const int at = (int)ch_0->delay_at;
    const int span = (int)rate->cascade[0].delay;
    double now_0;
    double *to_0 = &now_0;
    double now_1;
    double *to_1 = &now_1;

    x_0 = cascade->gain * x_0;
    x_1 = cascade->gain * x_1;
    for (;;) {
        uint32_t forms = (uint32_t)cascade->forms << 16;
        uint16_t some = cascade->forms;

        for (;;) {
            unsigned int word;

            if (some != 0u) {
                do {
                    heron_section_words row;
                    heron_memory is_0 = heron_load_0(m_0);
                    heron_memory is_1 = heron_load_1(m_1);

                    heron_row_5(&w, &row);
                    { /* direct */
                        const double b1x_0 = row.b1 * x_0;
                        const double b2x_0 = row.b2 * x_0;
                        const double y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = (is_0.q + b1x_0) - row.a1 * y_0;
                        is_0.q = b2x_0 - row.a2 * y_0;
                        const double b1x_1 = row.b1 * x_1;
                        const double b2x_1 = row.b2 * x_1;
                        const double y_1 = row.b0 * x_1 + is_1.p;
                        is_1.p = (is_1.q + b1x_1) - row.a1 * y_1;
                        is_1.q = b2x_1 - row.a2 * y_1;
                        x_0 = y_0;
                        x_1 = y_1;
                    }
                    heron_keep_0(&m_0, is_0);
                    heron_keep_1(&m_1, is_1);
                    forms <<= 1;
                } while (forms != 0u);
            }
            word = *picked;
            picked++;
            if (word == 0u) {
                break;
            }
            if (picked[-2] == 0u) { /* the first of a list */
                m_0 = &ch_0->now[cascade->split];
                m_1 = &ch_1->now[cascade->split];
                stop = cascade;
                always = w;
            }
            w = heron_row_at(rate, word & HERON_ROW);
            forms = 0xffffffffu << (32u - (word >> 13));
            some = 1u;
        }
        *to_0 = x_0;
        *to_1 = x_1;
        if (cascade == stop) {
            stop = &rate->cascade[HERON_WAYS];
            if (cascade == stop) {
                break;
            }
            w = always;
            m_0 = &ch_0->now[cascade[1].from];
            m_1 = &ch_1->now[cascade[1].from];
        }
        cascade++;
        to_0 = *out_0;
        out_0++;
        x_0 = now_0;
        to_1 = *out_1;
        out_1++;
        x_1 = now_1;
        if (cascade->delay > 0u) {
            int before = at - (int)cascade->delay;

            if (before < 0) {
                before += span;
            }
            x_0 = ch_0->delay[before];
            x_1 = ch_1->delay[before];
        }
        x_0 = cascade->gain * x_0;
        x_1 = cascade->gain * x_1;
    }
    ch_0->delay[at] = now_0;
    ch_0->delay_at = (unsigned char)(at + 1 < span ? at + 1 : 0);
    ch_1->delay[at] = now_1;
    ch_1->delay_at = (unsigned char)(at + 1 < span ? at + 1 : 0);
}


#endif

/* Samples side by side, in the words of the filters or of 32 bits, and a channel's own. */
typedef struct heron_frames heron_frames;
struct heron_frames {
    const double *in;
    double *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef HERON_NO_SINGLES
    heron_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(heron_frames *f, const heron_rate_entry *rate,
        heron_channel_state *ch, int k, int n, int apart);
    const double *ins[HERON_CHANNELS];
    double *outs[HERON_CHANNELS * HERON_WAYS];
    double from[HERON_TICK];
    double to[HERON_WAYS][HERON_TICK];
};
/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. Words and states of the ways stand in lanes of the state as
 * long as no channel fades, so that a single sample costs nothing to get there; what the channels
 * themselves remember of their ways is out of date then. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined HERON_NO_LANES
#define HERON_LANES 4 /* in a vector */
#define HERON_GROUPS 2 /* vectors that hold all lanes */
#define HERON_DEEP 9 /* sections of a lane, with those that a last pass has too many */
#define HERON_LONG 64 /* the most samples at once */
#if defined __AVX__
#define HERON_SAVING 3 /* half sections that one of all lanes has to stand for */
#else
#define HERON_SAVING 6
#endif

/* So that the loops over n samples are ones over one sample elsewhere. */
#define HERON_ALWAYS __attribute__((always_inline))

typedef double heron_lanes __attribute__((vector_size(32)));
typedef int64_t heron_marks __attribute__((vector_size(32)));
typedef double heron_short __attribute__((vector_size(16)));
typedef int64_t heron_short_marks __attribute__((vector_size(16)));

/* Words of two vectors in another order. */
#if defined __clang__ || __GNUC__ >= 12
#define HERON_SHUFFLE(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define HERON_SHUFFLE(a, b, ...) __builtin_shuffle(a, b, (heron_short_marks){ __VA_ARGS__ })
#endif

/* Lanes of b where those of the mask are negative, otherwise of a, in one instruction. */
#if defined __AVX__ && defined __has_builtin
#if __has_builtin(__builtin_ia32_blendvpd256)
#define HERON_BLEND(a, b, mask) __builtin_ia32_blendvpd256(a, b, mask)
#endif
#endif

/* Loops that clang leaves as they stand. */
#ifdef __clang__
#define HERON_ROLLED _Pragma("clang loop unroll(disable)")
#else
#define HERON_ROLLED
#endif

/* Vectors, and each lane of them. */
typedef union {
    heron_lanes all;
    double one[HERON_LANES];
} heron_lane_words;

typedef union {
    heron_marks all;
    int64_t one[HERON_LANES];
} heron_lane_marks;

/* Section k of every lane. */
typedef struct {
    heron_lane_words word[7]; /* b0, b1, b2, a1, a2, p, q */
    heron_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    heron_lane_words zero; /* -0, which adds nothing, to the bit, in all others */
    heron_lane_words none; /* -0 in a lane that has no such section, otherwise 0 */
} heron_lane_section;

/* Lanes beside each other in one vector. */
typedef struct {
    heron_lane_section section[HERON_DEEP];
    heron_lane_words gain;
    int32_t count[HERON_LANES]; /* sections of each */
    /* Which one begins at a section: how many it takes, and 8 times the form; 0: the end. */
    unsigned char pass[HERON_DEEP + 1];
    unsigned char alone[HERON_DEEP + 1]; /* the same for a single sample, with 32 times the form */
} heron_lane_group;

/* All that the state keeps room for. */
typedef struct __attribute__((may_alias)) {
    heron_lane_group group[HERON_GROUPS];
} heron_lane_store;

/* There is room for it, wherever in the state a whole vector begins. */
typedef char heron_lane_room[
    sizeof(heron_lane_store) + 32u <= sizeof(((heron_state *)0)->lanes) ? 1 : -1];

/* Where that begins, in bytes. */
static inline unsigned int heron_lanes_begin(const heron_state *s)
{
    return (32u - (unsigned int)((uintptr_t)s->lanes % 32u)) % 32u;
}

/* It, where lanes have been there since. */
static inline heron_lane_group *heron_lane_groups_at(heron_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;

    return ((heron_lane_store *)(void *)&room[s->lanes_at])->group;
}

/* That of a state, which may have been copied to where whole vectors begin elsewhere. */
static inline heron_lane_group *heron_lane_groups(heron_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;
    const unsigned int at = heron_lanes_begin(s);

    if (at != s->lanes_at) {
        (void)memmove(&room[at], &room[s->lanes_at], sizeof(heron_lane_store));
        s->lanes_at = (unsigned char)at;
    }
    return heron_lane_groups_at(s);
}

/* A state in lanes of the delta form, and -0 in all others. */
#ifdef HERON_BLEND
static const heron_lanes heron_nothing = {
    -0.0,
    -0.0,
    -0.0,
    -0.0,
};
#define HERON_BACK(state, s) \
    HERON_BLEND(heron_nothing, state, (heron_lanes)(s).keep.all)
#else
#define HERON_BACK(state, s) \
    ((heron_lanes)(((heron_marks)(state) & (s).keep.all) | (heron_marks)(s).zero.all))
#endif

/* Words stay in memory: there is no room for all in registers, and copies gain nothing. */
static inline HERON_ALWAYS void heron_lanes_direct_3(heron_lane_section *s,
        heron_lane_words *io, int n)
{
    HERON_AS_WRITTEN
    heron_lanes p_0 = s[0].word[5].all;
    heron_lanes q_0 = s[0].word[6].all;
    heron_lanes p_1 = s[1].word[5].all;
    heron_lanes q_1 = s[1].word[6].all;
    heron_lanes p_2 = s[2].word[5].all;
    heron_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const heron_lanes x = io[i].all;
        const heron_lanes y_0 = s[0].word[0].all * x + p_0;
        const heron_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const heron_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
        q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
        p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
        q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline HERON_ALWAYS void heron_lanes_direct_5(heron_lane_section *s,
        heron_lane_words *io, int n)
{
    HERON_AS_WRITTEN
    heron_lanes p_0 = s[0].word[5].all;
    heron_lanes q_0 = s[0].word[6].all;
    heron_lanes p_1 = s[1].word[5].all;
    heron_lanes q_1 = s[1].word[6].all;
    heron_lanes p_2 = s[2].word[5].all;
    heron_lanes q_2 = s[2].word[6].all;
    heron_lanes p_3 = s[3].word[5].all;
    heron_lanes q_3 = s[3].word[6].all;
    heron_lanes p_4 = s[4].word[5].all;
    heron_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const heron_lanes x = io[i].all;
        const heron_lanes y_0 = s[0].word[0].all * x + p_0;
        const heron_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const heron_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
        q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
        const heron_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
        q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
        const heron_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = (q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3;
        q_3 = s[3].word[2].all * y_2 - s[3].word[4].all * y_3;
        p_4 = (q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4;
        q_4 = s[4].word[2].all * y_3 - s[4].word[4].all * y_4;
        io[i].all = y_4;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
    s[3].word[5].all = p_3;
    s[3].word[6].all = q_3;
    s[4].word[5].all = p_4;
    s[4].word[6].all = q_4;
}

static inline HERON_ALWAYS void heron_lanes_ragged_3(heron_lane_section *s,
        heron_lane_words *io, int n)
{
    HERON_AS_WRITTEN
    heron_lanes p_0 = s[0].word[5].all;
    heron_lanes q_0 = s[0].word[6].all;
    heron_lanes p_1 = s[1].word[5].all;
    heron_lanes q_1 = s[1].word[6].all;
    heron_lanes p_2 = s[2].word[5].all;
    heron_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const heron_lanes x = io[i].all;
        const heron_lanes y_0 = s[0].word[0].all * x + p_0;
        const heron_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = HERON_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (heron_lanes)((heron_marks)p_0 | (heron_marks)s[0].none.all);
        q_0 = (HERON_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const heron_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = HERON_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (heron_lanes)((heron_marks)p_1 | (heron_marks)s[1].none.all);
        q_1 = (HERON_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = HERON_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (heron_lanes)((heron_marks)p_2 | (heron_marks)s[2].none.all);
        q_2 = (HERON_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline HERON_ALWAYS void heron_lanes_ragged_5(heron_lane_section *s,
        heron_lane_words *io, int n)
{
    HERON_AS_WRITTEN
    heron_lanes p_0 = s[0].word[5].all;
    heron_lanes q_0 = s[0].word[6].all;
    heron_lanes p_1 = s[1].word[5].all;
    heron_lanes q_1 = s[1].word[6].all;
    heron_lanes p_2 = s[2].word[5].all;
    heron_lanes q_2 = s[2].word[6].all;
    heron_lanes p_3 = s[3].word[5].all;
    heron_lanes q_3 = s[3].word[6].all;
    heron_lanes p_4 = s[4].word[5].all;
    heron_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const heron_lanes x = io[i].all;
        const heron_lanes y_0 = s[0].word[0].all * x + p_0;
        const heron_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = HERON_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (heron_lanes)((heron_marks)p_0 | (heron_marks)s[0].none.all);
        q_0 = (HERON_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const heron_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = HERON_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (heron_lanes)((heron_marks)p_1 | (heron_marks)s[1].none.all);
        q_1 = (HERON_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const heron_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = HERON_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (heron_lanes)((heron_marks)p_2 | (heron_marks)s[2].none.all);
        q_2 = (HERON_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const heron_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = HERON_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        p_3 = (heron_lanes)((heron_marks)p_3 | (heron_marks)s[3].none.all);
        q_3 = (HERON_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = HERON_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        p_4 = (heron_lanes)((heron_marks)p_4 | (heron_marks)s[4].none.all);
        q_4 = (HERON_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
        io[i].all = y_4;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
    s[3].word[5].all = p_3;
    s[3].word[6].all = q_3;
    s[4].word[5].all = p_4;
    s[4].word[6].all = q_4;
}

/* A pass, and how many sections it takes. */
static inline HERON_ALWAYS int heron_lane_pass(unsigned int pass,
        heron_lane_section *s, heron_lane_words *io, int n)
{
    switch (pass) {
    case 11u:
        heron_lanes_direct_3(s, io, n);
        break;
    case 13u:
        heron_lanes_direct_5(s, io, n);
        break;
    case 35u:
        heron_lanes_ragged_3(s, io, n);
        break;
    case 37u:
        heron_lanes_ragged_5(s, io, n);
        break;
    default:
        break;
    }
    return (int)(pass % 8u);
}

/* A single sample of every lane, io, through a group's sections. */
static inline HERON_ALWAYS void heron_lane_alone(heron_lane_group *group, heron_lanes *io)
{
    HERON_AS_WRITTEN
    heron_lanes x = *io;
    heron_lane_section *s = group->section;
    const unsigned char *run;

    for (run = group->alone; *run != 0u; run++) {
        unsigned int left = (unsigned int)*run % 32u;

        switch (*run / 32u) {
        case 1u: /* direct */
            HERON_ROLLED
            for (; left > 4u; left -= 5u) {
                heron_lanes p_0 = s[0].word[5].all;
                heron_lanes q_0 = s[0].word[6].all;
                const heron_lanes y_0 = s[0].word[0].all * x + p_0;
                heron_lanes p_1 = s[1].word[5].all;
                heron_lanes q_1 = s[1].word[6].all;
                const heron_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                heron_lanes p_2 = s[2].word[5].all;
                heron_lanes q_2 = s[2].word[6].all;
                const heron_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
                s[1].word[5].all = p_1;
                q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                heron_lanes p_3 = s[3].word[5].all;
                heron_lanes q_3 = s[3].word[6].all;
                const heron_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
                s[2].word[5].all = p_2;
                q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                heron_lanes p_4 = s[4].word[5].all;
                heron_lanes q_4 = s[4].word[6].all;
                const heron_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = (q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3;
                s[3].word[5].all = p_3;
                q_3 = s[3].word[2].all * y_2 - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = (q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4;
                s[4].word[5].all = p_4;
                q_4 = s[4].word[2].all * y_3 - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            HERON_ROLLED
            for (; left != 0u; left--) {
                heron_lanes p_0 = s[0].word[5].all;
                heron_lanes q_0 = s[0].word[6].all;
                const heron_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 4u: /* ragged */
            HERON_ROLLED
            for (; left > 4u; left -= 5u) {
                heron_lanes p_0 = s[0].word[5].all;
                heron_lanes q_0 = s[0].word[6].all;
                const heron_lanes y_0 = s[0].word[0].all * x + p_0;
                heron_lanes p_1 = s[1].word[5].all;
                heron_lanes q_1 = s[1].word[6].all;
                const heron_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = HERON_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
                    y_0);
                p_0 = (heron_lanes)((heron_marks)p_0 | (heron_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (HERON_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                heron_lanes p_2 = s[2].word[5].all;
                heron_lanes q_2 = s[2].word[6].all;
                const heron_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = HERON_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all
                    * y_1);
                p_1 = (heron_lanes)((heron_marks)p_1 | (heron_marks)s[1].none.all);
                s[1].word[5].all = p_1;
                q_1 = (HERON_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                heron_lanes p_3 = s[3].word[5].all;
                heron_lanes q_3 = s[3].word[6].all;
                const heron_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = HERON_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all
                    * y_2);
                p_2 = (heron_lanes)((heron_marks)p_2 | (heron_marks)s[2].none.all);
                s[2].word[5].all = p_2;
                q_2 = (HERON_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                heron_lanes p_4 = s[4].word[5].all;
                heron_lanes q_4 = s[4].word[6].all;
                const heron_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = HERON_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all
                    * y_3);
                p_3 = (heron_lanes)((heron_marks)p_3 | (heron_marks)s[3].none.all);
                s[3].word[5].all = p_3;
                q_3 = (HERON_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = HERON_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all
                    * y_4);
                p_4 = (heron_lanes)((heron_marks)p_4 | (heron_marks)s[4].none.all);
                s[4].word[5].all = p_4;
                q_4 = (HERON_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            HERON_ROLLED
            for (; left != 0u; left--) {
                heron_lanes p_0 = s[0].word[5].all;
                heron_lanes q_0 = s[0].word[6].all;
                const heron_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = HERON_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
                    y_0);
                p_0 = (heron_lanes)((heron_marks)p_0 | (heron_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (HERON_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        default:
            /* there are no others */
            break;
        }
    }
    *io = x;
}

/* The passes of a group over n samples of x. */
static HERON_NOINLINE void heron_lane_passes(heron_lane_group *group, heron_lane_words *x, int n)
{
    int k = 0;

    while (group->pass[k] != 0u) {
        k += heron_lane_pass(group->pass[k], &group->section[k], x, n);
    }
}

/* The sections of a list in lane l, from number k on, with what they remember. */
static int heron_lane_fill(const double *table, const uint16_t *list,
        const heron_memory *m, heron_lane_group *group, int l, int k)
{
    for (; *list != 0u; list++) {
        const double *w = &table[*list & HERON_ROW];
        const unsigned int length = 5u;
        const int delta = ((unsigned int)*list >> HERON_HEAD & 3u) != 1u ? 1 : 0;
        unsigned int left = (unsigned int)*list >> 13;

        for (; left > 0u; left--) {
            heron_lane_section *to = &group->section[k];
            to->word[0].one[l] = w[0];
            to->word[1].one[l] = w[1];
            to->word[2].one[l] = w[2];
            to->word[3].one[l] = w[3];
            to->word[4].one[l] = w[4];
            to->word[5].one[l] = m->p;
            to->word[6].one[l] = m->q;
            to->keep.one[l] = delta != 0 ? -1 : 0;
            to->zero.one[l] = delta != 0 ? 0.0 : -0.0;
            to->none.one[l] = 0.0;
            w += length;
            m++;
            k++;
        }
    }
    return k;
}

/* Where the next list begins. */
static inline const uint16_t *heron_behind(const uint16_t *list)
{
    while (*list != 0u) {
        list++;
    }
    return list + 1;
}

/* A lane's sections; behind its last one some that change nothing. */
static void heron_lane_enter(const heron_rate_entry *rate, const heron_channel_state *ch, int way,
        heron_lane_group *group, int l)
{
    const heron_cascade_entry *cascade = &rate->cascade[way];
    const uint16_t *picked = ch->list;
    int i;
    int k = heron_lane_fill(rate->sections, &rate->lists[cascade->list],
        &ch->now[cascade->from], group, l, 0);
    for (i = 0; i < way; i++) {
        picked = heron_behind(picked);
    }
    k = heron_lane_fill(rate->sections, picked, &ch->now[cascade->split], group, l, k);
    group->count[l] = k;
    group->gain.one[l] = cascade->gain;
    for (; k < HERON_DEEP; k++) {
        heron_lane_section *to = &group->section[k];
        to->word[0].one[l] = 1.0;
        to->word[1].one[l] = 0.0;
        to->word[2].one[l] = 0.0;
        to->word[3].one[l] = 0.0;
        to->word[4].one[l] = 0.0;
        to->word[5].one[l] = -0.0;
        to->word[6].one[l] = -0.0;
        to->keep.one[l] = 0;
        to->zero.one[l] = -0.0;
        to->none.one[l] = -0.0;
    }
}

/* Forms of a group's sections from one on: 1 direct, 2 delta, 3 both; ragged where lanes end. */
static unsigned int heron_lane_forms(const heron_lane_group *group, int from, int sections,
        int least)
{
    unsigned int forms = 0u;
    int l;

    for (l = 0; l < HERON_LANES * sections; l++) {
        const int k = from + l / HERON_LANES;

        forms |= group->section[k].keep.one[l % HERON_LANES] == 0 ? 1u : 2u;
    }
    return from + sections > least ? 4u : forms;
}

/* How single samples take a group's sections: those of one form in a row at once, with others
 * that follow where going along costs less than beginning anew. */
static void heron_lane_plan_alone(heron_lane_group *group, int least, int most)
{
    /* Operations of each form that direct ones do without. */
    static const int heron_lane_more[] = { 0, 0, 1, 5, 6 };
    unsigned char *run = group->alone;
    unsigned int form = 0u;
    int count = 0;
    int k = 0;

    (void)memset(group->alone, 0, sizeof group->alone);
    while (k < most) {
        const unsigned int next = heron_lane_forms(group, k, 1, least);
        const unsigned int any = form | next;
        const unsigned int both = any < 4u ? any : 4u;
        int n = 1;
        int cost;

        while (n < 31 && k + n < most
                && heron_lane_forms(group, k + n, 1, least) == next) {
            n++;
        }
        cost = count * (heron_lane_more[both] - heron_lane_more[form])
            + n * (heron_lane_more[both] - heron_lane_more[next]);
        if (count > 0 && (cost > 16 || count + n > 31)) {
            run++;
            count = 0;
        }
        form = count > 0 ? both : next;
        count += n;
        *run = (unsigned char)(form * 32u + (unsigned int)count);
        k += n;
    }
}

/* The passes of a group. What returns is how many sections the longest lane has. */
static int heron_lane_plan(heron_lane_group *group)
{
    int least = group->count[0];
    int most = least;
    int k;
    int l;

    for (l = 1; l < HERON_LANES; l++) {
        least = group->count[l] < least ? group->count[l] : least;
        most = group->count[l] > most ? group->count[l] : most;
    }
    (void)memset(group->pass, 0, sizeof group->pass);
    for (k = 0; k < most;) {
        const int left = most - k;
        const int sections = left > 3 && left != 6 ? 5 : 3;
        const unsigned int forms = heron_lane_forms(group, k, sections, least);

        group->pass[k] = (unsigned char)(forms * 8u + (unsigned int)sections);
        k += sections;
    }
    heron_lane_plan_alone(group, least, most);
    return most;
}

/* How many lanes of a group there are. */
static int heron_lanes_used(int group)
{
    const int left = HERON_CHANNELS * HERON_WAYS - group * HERON_LANES;

    return left < HERON_LANES ? left : HERON_LANES;
}

/* All ways begin to run in lanes where that saves anything. */
static HERON_COLD void heron_enter_lanes(heron_state *s)
{
    const heron_rate_entry *rate = &heron_rate_table[s->rate];
    heron_lane_group *group = heron_lane_groups(s);
    int all = 0;
    int most = 0;
    int k;
    int l;

    for (k = 0; k < HERON_GROUPS; k++) {
        const int used = heron_lanes_used(k);
        int longest;

        for (l = 0; l < HERON_LANES; l++) { /* what is not used does as the first */
            const int lane = k * HERON_LANES + (l < used ? l : 0);

            heron_lane_enter(rate, &s->channel[lane / HERON_WAYS], 1 + lane % HERON_WAYS,
                &group[k], l);
            all += l < used ? (int)group[k].count[l] : 0;
        }
        longest = heron_lane_plan(&group[k]);
        most += longest;
    }
    s->laned = 2 * all > HERON_SAVING * most ? 1u : 2u;
}

/* What the ways remember goes back to where it belongs. */
static HERON_COLD void heron_leave_lanes(heron_state *s)
{
    const heron_rate_entry *rate = &heron_rate_table[s->rate];
    const heron_lane_group *group = heron_lane_groups(s);
    int lane;
    int k;

    for (lane = 0; lane < HERON_CHANNELS * HERON_WAYS && s->laned == 1u; lane++) {
        const heron_lane_group *from = &group[lane / HERON_LANES];
        const heron_cascade_entry *cascade = &rate->cascade[1 + lane % HERON_WAYS];
        heron_memory *m = &s->channel[lane / HERON_WAYS].now[cascade->from];
        const int last = lane % HERON_WAYS == HERON_WAYS - 1 ? 1 : 0;
        const int fixed = (last != 0 ? rate->cascade[0].split : cascade[1].from) - cascade->from;

        for (k = 0; k < from->count[lane % HERON_LANES]; k++) {
            if (k == fixed) {
                m = &s->channel[lane / HERON_WAYS].now[cascade->split];
            }
            m->p = from->section[k].word[5].one[lane % HERON_LANES];
            m->q = from->section[k].word[6].one[lane % HERON_LANES];
            m++;
        }
    }
    s->laned = 0u;
}

/* Sections in lanes come to rest like others. */
static HERON_COLD void heron_rest_lanes(heron_state *s)
{
    const heron_lanes above_p = {
        5.421010862427522e-20,
        5.421010862427522e-20,
        5.421010862427522e-20,
        5.421010862427522e-20,
    };
    const heron_lanes below_p = {
        -5.421010862427522e-20,
        -5.421010862427522e-20,
        -5.421010862427522e-20,
        -5.421010862427522e-20,
    };
    const heron_lanes above_q = {
        5.421010862427522e-20,
        5.421010862427522e-20,
        5.421010862427522e-20,
        5.421010862427522e-20,
    };
    const heron_lanes below_q = {
        -5.421010862427522e-20,
        -5.421010862427522e-20,
        -5.421010862427522e-20,
        -5.421010862427522e-20,
    };
    heron_lane_group *group = heron_lane_groups(s);
    int k;

    for (k = 0; k < HERON_GROUPS * HERON_DEEP; k++) {
        heron_lane_section *at = &group[k / HERON_DEEP].section[k % HERON_DEEP];
        const heron_lanes p = at->word[5].all;
        const heron_lanes q = at->word[6].all;
        const heron_marks tiny = (p < above_p) & (p > below_p) & (q < above_q) & (q > below_q);
        at->word[5].all = (heron_lanes)(((heron_marks)p & ~tiny) | (heron_marks)at->none.all);
        at->word[6].all = (heron_lanes)(((heron_marks)q & ~tiny) | (heron_marks)at->none.all);
    }
}

/* 1 where no channel fades or is silent. */
static int heron_calm(const heron_state *s)
{
    int c;

    for (c = 0; c < HERON_CHANNELS; c++) {
        if (s->channel[c].calm == 0u) {
            return 0;
        }
    }
    return 1;
}

/* Turns a square of words about: word i of v[k] becomes word k of v[i]. */
static inline void heron_turn(heron_short *v)
{
    const heron_short v1_0 = HERON_SHUFFLE(v[0], v[1], 0, 2);
    const heron_short v1_1 = HERON_SHUFFLE(v[0], v[1], 1, 3);
    v[0] = v1_0;
    v[1] = v1_1;
}

/* Where the samples begin that a way hears. */
static const double *heron_lane_from(const heron_rate_entry *rate, int way,
        const double *now)
{
    const int delay = (int)rate->cascade[1 + way].delay;

    return &now[-delay];
}

/* What a lane hears of a single sample of the channels' common parts. */
static inline HERON_ALWAYS double heron_lane_hears(const heron_state *s,
        const heron_rate_entry *rate, int lane, const double *now)
{
    const unsigned int late = 0x4u; /* a bit for each way that is late at some rate */
    const heron_channel_state *const ch = &s->channel[lane / HERON_WAYS];
    const int way = lane % HERON_WAYS;

    if ((late >> way & 1u) != 0u && rate->cascade[1 + way].delay > 0u) {
        const int k = (int)ch->delay_at - (int)rate->cascade[1 + way].delay;

        return ch->delay[k < 0 ? k + (int)rate->cascade[0].delay : k];
    }
    return now[lane / HERON_WAYS];
}

/* The channels' common parts times gain -> x of lanes from on; what is not used gets what the first
 * does. */
static void heron_lane_inputs(const heron_rate_entry *rate, const heron_lane_words *gains, int from, int used,
        double (*common)[HERON_HISTORY + HERON_LONG], heron_lane_words *x, int n)
{
    HERON_AS_WRITTEN
    const int lane_0 = from;
    const double *from_0 = heron_lane_from(rate, lane_0 % HERON_WAYS,
        &common[lane_0 / HERON_WAYS][HERON_HISTORY]);
    const int lane_1 = 1 < used ? from + 1 : from;
    const double *from_1 = heron_lane_from(rate, lane_1 % HERON_WAYS,
        &common[lane_1 / HERON_WAYS][HERON_HISTORY]);
    const int lane_2 = 2 < used ? from + 2 : from;
    const double *from_2 = heron_lane_from(rate, lane_2 % HERON_WAYS,
        &common[lane_2 / HERON_WAYS][HERON_HISTORY]);
    const int lane_3 = 3 < used ? from + 3 : from;
    const double *from_3 = heron_lane_from(rate, lane_3 % HERON_WAYS,
        &common[lane_3 / HERON_WAYS][HERON_HISTORY]);
    int i;

    for (i = 0; i < n; i++) {
#if defined __AVX__
        {
            heron_lanes gain;
            const heron_lanes all = { from_0[i], from_1[i], from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const heron_lanes scaled = gain * all;
                x[i].all = scaled;
            }
        }
#else
        {
            heron_short gain;
            const heron_short all = { from_0[i], from_1[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const heron_short scaled = gain * all;
                (void)memcpy(&x[i].one[0], &scaled, sizeof scaled);
            }
        }
        {
            heron_short gain;
            const heron_short all = { from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[2], sizeof gain);
            {
                const heron_short scaled = gain * all;
                (void)memcpy(&x[i].one[2], &scaled, sizeof scaled);
            }
        }
#endif
    }
}

/* x of lanes from on -> out. */
static void heron_lane_outputs(const heron_lane_words *x, int used, double *const *out,
        int at, int n)
{
    double spare[HERON_LONG]; /* of lanes that are not used */
    int l;

    for (l = 0; l < used; l += 2) {
        double *to_0 = l + 0 < used ? &out[l + 0][at] : spare;
        double *to_1 = l + 1 < used ? &out[l + 1][at] : spare;
        int i;

        for (i = 0; i < n - 2 + 1; i += 2) {
            heron_short v[2];

            (void)memcpy(&v[0], &x[i + 0].one[l], sizeof v[0]);
            (void)memcpy(&v[1], &x[i + 1].one[l], sizeof v[1]);
            heron_turn(v);
            (void)memcpy(&to_0[i], &v[0], sizeof v[0]);
            (void)memcpy(&to_1[i], &v[1], sizeof v[1]);
        }
        for (; i < n; i++) {
            to_0[i] = x[i].one[l + 0];
            to_1[i] = x[i].one[l + 1];
        }
    }
}

/* x of lanes from on -> frames, from frame number at on: there they stand in the same order. */
static void heron_lane_give(const heron_frames *f, const heron_lane_words *x, int from, int used,
        int at, int n)
{
    int k = (at * HERON_CHANNELS * HERON_WAYS) + from;
    int i;
    int l;

    for (i = 0; i < n; i++) {
        if (used == HERON_LANES) {
            if (f->wide != 0) {
                for (l = 0; l < HERON_LANES; l++) {
                    f->out32[k + l] = heron_to_int32(x[i].one[l]);
                }
            } else {
                (void)memcpy(&f->out[k], &x[i], sizeof x[i]);
            }
        } else {
            for (l = 0; l < used; l++) {
                if (f->wide != 0) {
                    f->out32[k + l] = heron_to_int32(x[i].one[l]);
                } else {
                    f->out[k + l] = x[i].one[l];
                }
            }
        }
        k += HERON_CHANNELS * HERON_WAYS;
    }
}

/* The ways of a group's lanes, so many from on: in common[channel] -> out, or frames. */
static void heron_run_lanes(const heron_rate_entry *rate, heron_lane_group *group, int from, int used,
        double (*common)[HERON_HISTORY + HERON_LONG], double *const *out, const heron_frames *f, int at, int n)
{
    heron_lane_words x[HERON_LONG];

    heron_lane_inputs(rate, &group->gain, from, used, common, x, n);
    heron_lane_passes(group, x, n);
    if (f != NULL) {
        heron_lane_give(f, x, from, used, at, n);
    } else {
        heron_lane_outputs(x, used, &out[from], at, n);
    }
}

/* n samples of a channel times the first gain: in -> now. What returns is not less than the size of
 * the greatest. */
static inline uint32_t heron_lane_take(double gain, const double *in, double *now, int n)
{
    HERON_AS_WRITTEN
    uint32_t sizes = 0u;
    int i;

    for (i = 0; i < n; i++) {
        const double all = in[i];

        sizes |= heron_bits(all);
        const double scaled = gain * all;
        now[i] = scaled;
    }
    return sizes << 1;
}

/* A channel's common part where there is more than the gain: in -> now. */
static void heron_lane_common(const heron_rate_entry *rate, heron_channel_state *ch,
        const double *in, double *now, int n)
{
    const heron_cascade_entry *cascade = &rate->cascade[0];

    if (rate->lists[cascade->list] != 0u) {
        (void)heron_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from], cascade->gain, in, now, n);
    }
}

/* A single sample of two channels, or of one twice, through the sections of a list. */
static inline HERON_ALWAYS void heron_lane_list(const double *table, const uint16_t *list,
        heron_memory *m_0, heron_memory *m_1, double *io_0, double *io_1)
{
    HERON_AS_WRITTEN
    double x_0 = *io_0;
    double x_1 = *io_1;

    for (; *list != 0u; list++) {
        const double *w = &table[*list & HERON_ROW];
        unsigned int left = (unsigned int)*list >> 13;

        switch ((unsigned int)*list >> HERON_HEAD & 3u) {
        case 1u: /* direct */
            do {
                const double b0 = w[0];
                const double b1 = w[1];
                const double b2 = w[2];
                const double a1 = w[3];
                const double a2 = w[4];
                double p_0 = m_0->p;
                double q_0 = m_0->q;
                double p_1 = m_1->p;
                double q_1 = m_1->q;
                const double y_0 = b0 * x_0 + p_0;
                p_0 = (q_0 + b1 * x_0) - a1 * y_0;
                q_0 = b2 * x_0 - a2 * y_0;
                const double y_1 = b0 * x_1 + p_1;
                p_1 = (q_1 + b1 * x_1) - a1 * y_1;
                q_1 = b2 * x_1 - a2 * y_1;
                m_0->p = p_0;
                m_0->q = q_0;
                x_0 = y_0;
                m_0++;
                m_1->p = p_1;
                m_1->q = q_1;
                x_1 = y_1;
                m_1++;
                w += 5;
                left--;
            } while (left != 0u);
            break;
        default:
            /* there are no others */
            break;
        }
    }
    *io_0 = x_0;
    *io_1 = x_1;
}

/* One sample of all channels, number at, or one frame. What returns is 1, or 0 where one may be
 * garbage: then nothing has happened. */
static inline HERON_ALWAYS int heron_lane_sample(heron_state *s, const heron_rate_entry *rate,
        heron_lane_group *group, const double *const *in, double *const *out,
        const heron_frames *f, int framed, int at)
{
    HERON_AS_WRITTEN
    double now[HERON_CHANNELS];
    uint32_t size = 0u;
    int c;
    int g;

    if (framed == 0) {
        for (c = 0; c < HERON_CHANNELS; c++) {
            now[c] = in[c][at];
        }
    } else if (f->wide == 0) {
        (void)memcpy(now, &f->in[at * HERON_CHANNELS], sizeof now);
    } else {
        int k = at * HERON_CHANNELS;

        for (c = 0; c < HERON_CHANNELS; c++) {
            now[c] = heron_from_int32(f->in32[k]);
            k++;
        }
    }
    for (c = 0; c < HERON_CHANNELS; c++) {
        size |= heron_lane_take(rate->cascade[0].gain, &now[c], &now[c], 1);
    }
    if (size >= HERON_GARBAGE) {
        return 0;
    }
    for (c = 0; c < HERON_CHANNELS; c += 2) {
        const heron_cascade_entry *const common = &rate->cascade[0];
        heron_channel_state *const ch = &s->channel[c];
        const int mate = c + 1 < HERON_CHANNELS ? 1 : 0;

        heron_lane_list(rate->sections, &rate->lists[common->list], &ch->now[common->from],
            &ch[mate].now[common->from], &now[c], &now[c + mate]);
    }
    for (g = 0; g < HERON_GROUPS; g++) {
        const int used = heron_lanes_used(g);
        const heron_lane_words *gains = &group[g].gain;
        const int lane_0 = g * HERON_LANES;
        const double x_0 = heron_lane_hears(s, rate, lane_0, now);
        const int lane_1 = (1 < used ? 1 : 0) + g * HERON_LANES;
        const double x_1 = heron_lane_hears(s, rate, lane_1, now);
        const int lane_2 = (2 < used ? 2 : 0) + g * HERON_LANES;
        const double x_2 = heron_lane_hears(s, rate, lane_2, now);
        const int lane_3 = (3 < used ? 3 : 0) + g * HERON_LANES;
        const double x_3 = heron_lane_hears(s, rate, lane_3, now);
        heron_lane_words x;
#if defined __AVX__
        {
            heron_lanes gain;
            const heron_lanes all = { x_0, x_1, x_2, x_3 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const heron_lanes scaled = gain * all;
                x.all = scaled;
            }
        }
#else
        {
            heron_short gain;
            const heron_short all = { x_0, x_1 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const heron_short scaled = gain * all;
                (void)memcpy(&x.one[0], &scaled, sizeof scaled);
            }
        }
        {
            heron_short gain;
            const heron_short all = { x_2, x_3 };

            (void)memcpy(&gain, &gains->one[2], sizeof gain);
            {
                const heron_short scaled = gain * all;
                (void)memcpy(&x.one[2], &scaled, sizeof scaled);
            }
        }
#endif
        if (framed != 0) {
            heron_lane_alone(&group[g], &x.all);
            heron_lane_give(f, &x, g * HERON_LANES, used, at, 1);
        } else {
            double *const *to = &out[g * HERON_LANES];
            heron_lanes y = x.all;

            heron_lane_alone(&group[g], &y);
            to[0][at] = y[0];
            if (1 < used) {
                to[1][at] = y[1];
            }
            if (2 < used) {
                to[2][at] = y[2];
            }
            if (3 < used) {
                to[3][at] = y[3];
            }
        }
    }
    for (c = 0; c < HERON_CHANNELS; c++) {
        heron_channel_state *const ch = &s->channel[c];
        const int next = (int)ch->delay_at;

        if (rate->cascade[0].delay > 0u) {
            ch->delay[next] = now[c];
            ch->delay_at = (unsigned char)(next + 1 < (int)rate->cascade[0].delay ? next + 1 : 0);
        }
    }
    return 1;
}

/* The same of samples, and of frames. */
static HERON_NOINLINE int heron_step_lanes(heron_state *s, const heron_rate_entry *rate,
        heron_lane_group *group, const double *const *in, double *const *out, int at)
{
    return heron_lane_sample(s, rate, group, in, out, NULL, 0, at);
}

static HERON_NOINLINE int heron_step_frame(heron_state *s, const heron_rate_entry *rate,
        heron_lane_group *group, const heron_frames *f, int at)
{
    return heron_lane_sample(s, rate, group, NULL, NULL, f, 1, at);
}

/* n samples of all channels, from number at on: in -> out, or from where they begin -> frames. What
 * returns is 1, or 0 where one may be garbage. */
static HERON_NOINLINE int heron_block_lanes(heron_state *s, const heron_rate_entry *rate,
        const double *const *in, double *const *out, const heron_frames *f, int at, int n)
{
    heron_lane_group *group = heron_lane_groups(s);
    double common[HERON_CHANNELS][HERON_HISTORY + HERON_LONG];
    const int begin = f == NULL ? at : 0;
    uint32_t size = 0u;
    int k;

    for (k = 0; k < HERON_CHANNELS; k++) {
        size |= heron_lane_take(rate->cascade[0].gain, &in[k][begin], &common[k][HERON_HISTORY], n);
    }
    if (size >= HERON_GARBAGE) {
        return 0;
    }
    for (k = 0; k < HERON_CHANNELS; k++) {
        heron_lane_common(rate, &s->channel[k], &in[k][begin], &common[k][HERON_HISTORY], n);
        heron_recall(rate, &s->channel[k], &common[k][HERON_HISTORY]);
    }
    for (k = 0; k < HERON_GROUPS; k++) {
        heron_run_lanes(rate, &group[k], k * HERON_LANES, heron_lanes_used(k), common, out, f, at, n);
    }
    for (k = 0; k < HERON_CHANNELS; k++) {
        heron_remember(rate, &s->channel[k], &common[k][HERON_HISTORY], n);
    }
    return 1;
}

/* n frames, from number at on. What returns is 1, or 0 where one may have garbage. */
static HERON_NOINLINE int heron_frame_lanes(heron_state *s, const heron_rate_entry *rate,
        const heron_frames *f, int at, int n)
{
    double now[HERON_CHANNELS][HERON_LONG];
    const double *in[HERON_CHANNELS];
    int c;
    int i;

    for (c = 0; c < HERON_CHANNELS; c++) {
        int k = (at * HERON_CHANNELS) + c;

        in[c] = now[c];
        for (i = 0; i < n; i++) {
            now[c][i] = f->wide != 0 ? heron_from_int32(f->in32[k]) : f->in[k];
            k += HERON_CHANNELS;
        }
    }
    return heron_block_lanes(s, rate, in, NULL, f, at, n);
}

/* Runs all channels where none fades or is silent, no sample may be garbage, and lanes are
 * faster: n samples at least, all at most. What returns is how many there were; 0: none, and the
 * channels have what belongs to them. */
static inline int heron_run_calm(heron_state *s, const heron_rate_entry *rate,
        const double *const *in, double *const *out, const heron_frames *f, int at, int n, int all)
{
    int good;

    if (s->laned == 0u && heron_calm(s) != 0) {
        heron_enter_lanes(s);
    }
    if (s->laned != 1u) {
        return 0;
    }
    if (s->count % HERON_TICK == 0u && all > n) { /* nothing is asked for, so that it may go on */
        const int left = (int)(HERON_REST - s->count);

        n = left < HERON_LONG ? left : HERON_LONG;
        n = all < n ? all : n;
    }
    if (n == 1) {
        heron_lane_group *const group = heron_lane_groups(s);

        good = f != NULL ? heron_step_frame(s, rate, group, f, at)
            : heron_step_lanes(s, rate, group, in, out, at);
    } else if (f != NULL) {
        good = heron_frame_lanes(s, rate, f, at, n);
    } else {
        good = heron_block_lanes(s, rate, in, out, NULL, at, n);
    }
    if (good == 0) {
        heron_leave_lanes(s);
        return 0;
    }
    return n;
}
#endif


/* ---- what happens at ticks ------------------------------------------------------------ */

/* The lists of all cascades, one behind the other. */
static HERON_COLD void heron_make_lists(const heron_rate_entry *rate, heron_channel_state *ch)
{
    uint16_t *next = ch->list;
    int c;

    for (c = 0; c <= HERON_WAYS; c++) {
        next = heron_make_list(rate, ch, c, next);
    }
}

/* Settings at a tick: a change that is over is what runs, and one that is asked for begins. */
static void heron_change_settings(const heron_rate_entry *rate, heron_channel_state *ch,
        const volatile unsigned char *asked)
{
    if (ch->change == rate->settle + rate->fade) {
        /* all cascades' stand behind each other, here as there */
        (void)memcpy(&ch->now[rate->cascade[0].split], ch->then,
            (size_t)rate->cascade[HERON_WAYS].end * sizeof ch->then[0]);
        heron_make_lists(rate, ch);
        ch->change = -1;
    }
    if (ch->change < 0) {
        unsigned int differ = 0u;
        int k;

        for (k = 0; k < HERON_SETTINGS; k++) {
            const unsigned char wanted = asked[k];

            differ |= (unsigned int)wanted ^ ch->chosen[k];
            ch->chosen[k] = wanted;
        }
        if (ch->fresh != 0u) {
            heron_make_lists(rate, ch);
        } else if (differ != 0u) {
            (void)memset(ch->then, 0, sizeof ch->then);
            ch->change = 0;
        } else {
            /* as before */
        }
    }
}

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static HERON_COLD void heron_rest(heron_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if ((heron_bits(m[k].p) << 1) < 0x77e00000u
                && (heron_bits(m[k].q) << 1) < 0x77e00000u) {
            m[k].p = 0.0;
            m[k].q = 0.0;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void heron_tick_channel(const heron_rate_entry *rate, heron_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[HERON_MUTE];

    heron_change_settings(rate, ch, asked);
    ch->fresh = 0u;
    if (ch->open == 0) {
        ch->step = (int8_t)(1 - mute);
    } else if (ch->open == fade) {
        ch->step = (int8_t)-mute;
    } else {
        /* a fade goes on to its end */
    }
    ch->calm = ch->open == fade && ch->step == 0 && ch->dead == 0u && ch->change < 0 ? 1u : 0u;
}

#ifndef HERON_NO_SINGLES
/* Channels that may take single samples together. Their delays are in step: blocks leave them
 * beginning in front, and both of two go as blocks or both together. */
static void heron_find_mates(heron_state *s)
{
    int c;

    for (c = 0; c < HERON_CHANNELS - 1; c += 2) {
        heron_channel_state *const ch = &s->channel[c];

        if (ch->calm != 0u && ch[1].calm != 0u
                && memcmp(ch->chosen, ch[1].chosen, sizeof ch->chosen) == 0) {
            ch->calm = 2u;
        }
    }
}
#endif

/* What is due of all channels. */
static HERON_COLD void heron_tick(heron_state *s, const heron_rate_entry *rate)
{
    int c;

    for (c = 0; c < HERON_CHANNELS; c++) {
        heron_channel_state *ch = &s->channel[c];

        heron_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            heron_rest(ch->now, HERON_POSITIONS);
            heron_rest(ch->then, HERON_THEN); /* idle ones, too */
        }
    }
#ifndef HERON_NO_SINGLES
    heron_find_mates(s);
#endif
#ifdef HERON_LANES
    if (heron_calm(s) == 0) {
        heron_leave_lanes(s);
    } else if (s->count == 0u && s->laned == 1u) {
        heron_rest_lanes(s);
    } else {
        /* nothing is due in lanes */
    }
#endif
}

/* Of n samples those before the next tick; what is due before them is done. */
static int heron_begin(heron_state *s, const heron_rate_entry *rate, int n)
{
    const uint32_t into = s->count % HERON_TICK;
    const int left = (int)(HERON_TICK - into);

    if (into == 0u) {
        heron_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static inline const heron_rate_entry *heron_rate_here(const heron_state *s)
{
    return s->ready != HERON_READY || s->check != HERON_CHECK || s->rate < 0
            || s->rate >= HERON_RATES ? NULL : &heron_rate_table[s->rate];
}

static HERON_NOINLINE const heron_rate_entry *heron_rate_of(const heron_state *s)
{
    return heron_rate_here(s);
}

/* 1 also for a channel that does not exist. */
static HERON_COLD int heron_refuse_channel(const heron_state *s, int channel)
{
    return channel < 0 || channel >= HERON_CHANNELS || heron_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static HERON_COLD int heron_ask(heron_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char heron_choices[HERON_MUTE + 1] = { 3u, 2u, 2u, 2u };

    if (choice >= heron_choices[what] || heron_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static HERON_COLD int heron_asked(const heron_state *s, int channel, int what)
{
    return heron_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static HERON_COLD void heron_silence(heron_channel_state *ch)
{

    (void)memset(ch, 0, sizeof *ch);
    ch->change = -1;
    ch->fresh = 1u;
}

/* In all of them. */
static HERON_COLD void heron_silence_all(heron_state *s)
{
    int c;

    for (c = 0; c < HERON_CHANNELS; c++) {
        heron_silence(&s->channel[c]);
    }
    s->count = 0u;
#ifdef HERON_LANES
    s->laned = 0u;
#endif
}

/* Starts at a rate; 1 where there is no such. */
static HERON_COLD int heron_start(heron_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < HERON_RATES; i++) {
        if (heron_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            heron_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int heron_set_rate(heron_state *s, uint32_t rate_hz)
{
    return heron_rate_of(s) == NULL ? 1 : heron_start(s, rate_hz);
}

int heron_init(heron_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (heron_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = HERON_READY;
    s->check = HERON_CHECK;
    return 0;
}

void heron_reset(heron_state *s)
{
    if (heron_rate_of(s) != NULL) {
        heron_silence_all(s);
    }
}

int heron_reset_channel(heron_state *s, int channel)
{
    if (heron_refuse_channel(s, channel) != 0) {
        return 1;
    }
#ifdef HERON_LANES
    heron_leave_lanes(s);
#endif
    heron_silence(&s->channel[channel]);
    return 0;
}

int heron_set_placement(heron_state *s, int channel, enum heron_placement choice)
{
    return heron_ask(s, channel, 0, (unsigned int)choice);
}

int heron_get_placement(const heron_state *s, int channel)
{
    return heron_asked(s, channel, 0);
}

int heron_set_grille(heron_state *s, int channel, enum heron_grille choice)
{
    return heron_ask(s, channel, 1, (unsigned int)choice);
}

int heron_get_grille(const heron_state *s, int channel)
{
    return heron_asked(s, channel, 1);
}

int heron_set_treble_trim(heron_state *s, int channel, enum heron_treble_trim choice)
{
    return heron_ask(s, channel, 2, (unsigned int)choice);
}

int heron_get_treble_trim(const heron_state *s, int channel)
{
    return heron_asked(s, channel, 2);
}

int heron_mute(heron_state *s, int channel, int on)
{
    return heron_ask(s, channel, HERON_MUTE, on != 0 ? 1u : 0u);
}

int heron_muted(const heron_state *s, int channel)
{
    return heron_asked(s, channel, HERON_MUTE);
}

int heron_garbage(const heron_state *s, int channel)
{
    return heron_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static HERON_BLOCKS int heron_run_all(heron_state *s, const double *const *in,
        double *const *out, heron_frames *f, int n)
{
    const heron_rate_entry *const rate = heron_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = heron_begin(s, rate, n - done);
        int c;
#ifdef HERON_LANES
        const int together = heron_run_calm(s, rate, in, out, f, done, chunk, n - done);

        if (together > 0) {
            s->count = (s->count + (uint32_t)together) % HERON_REST;
            done += together;
            continue;
        }
#endif
        for (c = 0; c < HERON_CHANNELS; c++) {
            heron_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * HERON_CHANNELS) + c, chunk,
                    HERON_CHANNELS);
            } else {
                heron_run_block(rate, ch, &in[c][done], &out[c * HERON_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % HERON_REST;
        done += chunk;
    }
    return 0;
}

#ifdef HERON_LANES
/* A single sample of all channels, or a frame where there are frames, in lanes where nothing is due
 * before it. What returns is 1, or 0: nothing has happened. */
static inline int heron_run_alone(heron_state *s, const double *const *in,
        double *const *out, const heron_frames *f)
{
    const heron_rate_entry *const rate = heron_rate_here(s);
    heron_lane_group *group;
    int good;

    if (rate == NULL || s->laned != 1u || s->count % HERON_TICK == 0u
            || s->lanes_at != heron_lanes_begin(s)) {
        return 0;
    }
    group = heron_lane_groups_at(s);
    good = f != NULL ? heron_step_frame(s, rate, group, f, 0)
        : heron_step_lanes(s, rate, group, in, out, 0);
    s->count = (s->count + (uint32_t)good) % HERON_REST;
    return good;
}
#endif

#ifndef HERON_NO_SINGLES
/* One sample of all channels: two that are calm and alike go through sections beside each other. */
static HERON_NOINLINE int heron_run_one(heron_state *s, const double *const *in,
        double *const *out)
{
    const heron_rate_entry *const rate = heron_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)heron_begin(s, rate, 1);
#ifdef HERON_LANES
    if (heron_run_calm(s, rate, in, out, NULL, 0, 1, 1) > 0) {
        s->count = (s->count + 1u) % HERON_REST;
        return 0;
    }
#endif
    s->count = (s->count + 1u) % HERON_REST;
    for (c = 0; c < HERON_CHANNELS; c += 2) {
        const int other = c + 1;
        heron_channel_state *const ch = &s->channel[c];
        heron_channel_state *const mate = &s->channel[other];
        const double x = *in[c];
        const double y = *in[other];

        if ((unsigned int)ch->calm + mate->calm > 2u /* alike, and both are calm still */
                && ((heron_bits(x) | heron_bits(y)) << 1) < HERON_GARBAGE) {
            heron_step(rate, ch, mate, x, y, &out[c * HERON_WAYS], &out[other * HERON_WAYS]);
        } else {
            int k;

            for (k = c; k <= other; k++) {
                heron_run_block(rate, &s->channel[k], in[k], &out[k * HERON_WAYS], 0, 1);
            }
        }
    }
    return 0;
}

#endif

int heron_run(heron_state *s, const double *const *in, double *const *out, int n)
{
#ifdef HERON_LANES
    if (n == 1 && heron_run_alone(s, in, out, NULL) != 0) {
        return 0;
    }
#endif
#ifndef HERON_NO_SINGLES
    if (n == 1) {
        return heron_run_one(s, in, out);
    }
#endif
    return heron_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static HERON_SMALL int heron_through(heron_frames *f, const heron_rate_entry *rate,
        heron_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? heron_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef HERON_NO_SINGLES
    if (ch == NULL) {
        if (heron_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        heron_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * HERON_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < HERON_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = heron_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * HERON_WAYS;
    }
    return 0;
}

/* n frames. */
static HERON_SMALL int heron_run_side_by_side(heron_state *s, heron_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;

#ifdef HERON_LANES
    if (n == 1 && heron_run_alone(s, NULL, NULL, f) != 0) {
        return 0;
    }
#endif
#ifndef HERON_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = HERON_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < HERON_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef HERON_NO_SINGLES
    if (n == 1) {
        return heron_through(f, NULL, NULL, 0, HERON_CHANNELS, 1);
    }
#endif
    f->through = heron_through;
    return heron_run_all(s, NULL, NULL, f, n);
}

int heron_run_frames(heron_state *s, const double *in, double *out, int n)
{
    heron_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return heron_run_side_by_side(s, &f, n);
}

int heron_run_frames_int32(heron_state *s, const int32_t *in, int32_t *out, int n)
{
    heron_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return heron_run_side_by_side(s, &f, n);
}

#undef HERON_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
