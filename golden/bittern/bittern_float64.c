/*
 * bittern_float64.c: the loudspeaker filters of "bittern", tables and code
 * Spec SHA-256 b652ed64a3186ead499ef684655be9b732c246a45975e38af6a82f60bc9a1284
 *
 * Compile this file with the program; bittern_float64.h tells all about it.
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
#include "bittern_float64.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || DBL_MANT_DIG != 53)
#error "bittern: double must be an IEEE 754 number of 64 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 1 && FLT_EVAL_METHOD != 16)
#error "bittern: double must be computed as double; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "bittern: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
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
#define BITTERN_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define BITTERN_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define BITTERN_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif

/* To run at fewer rates, define BITTERN_ONLY_ with the rate for each that shall stay. */
#if !(defined BITTERN_ONLY_48000 || defined BITTERN_ONLY_96000)
#define BITTERN_ONLY_48000
#define BITTERN_ONLY_96000
#endif

/* Single samples have code of their own, which BITTERN_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block and not in lanes: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define BITTERN_NOINLINE __attribute__((noinline))
#define BITTERN_COLD __attribute__((noinline, cold))
#define BITTERN_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define BITTERN_NOINLINE
#define BITTERN_COLD
#define BITTERN_INLINE inline
#endif
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined BITTERN_NO_LANES
#define BITTERN_SMALL BITTERN_NOINLINE
#else
#define BITTERN_SMALL BITTERN_COLD
#endif
#ifdef BITTERN_NO_SINGLES
#define BITTERN_BLOCKS BITTERN_NOINLINE
#else
#define BITTERN_BLOCKS BITTERN_SMALL
#endif

#define BITTERN_READY 0x87e6d231u /* of this spec in this format */
#define BITTERN_CHECK 0x1c51b9d4u
#define BITTERN_TICK 32u /* samples between two looks at what is asked for */
#define BITTERN_REST 128u /* and between two looks for sections that have come to rest */
#define BITTERN_HISTORY 19 /* samples of the blocks before that stand in front of one */
/* bittern_bits without the sign, << 1, of what is no sample. */
#define BITTERN_GARBAGE 0x87e00000u

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 2 delta without b1 and b2, 3 delta)
 * and how many they are; 0 is the end. */
#define BITTERN_ROW 0x7ffu
#define BITTERN_HEAD 11 /* bits below */
#define BITTERN_ONE_MORE (1u << 13)
#define BITTERN_FULL 0x6000u /* from there on a pass takes no more */
#define BITTERN_NONE 255u /* the alternative that changes nothing and has no row */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef BITTERN_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    double b0;
    double b1;
    double b2;
    double a1;
    double a2;
} bittern_section_words;
#endif

typedef struct {
    unsigned char word; /* among the lists: that for its first alternative */
    unsigned char pick; /* of bittern_pick_table: the alternative of every combination */
    unsigned char stride[BITTERN_SETTINGS]; /* of each setting's choices */
} bittern_switch_entry;

typedef struct {
    double gain; /* with the polarity as sign */
    unsigned char delay; /* samples that a way is late, the common part's too; there the longest */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
    int8_t split; /* of what settings pick, behind that of all that always runs */
    int8_t first; /* the first position of that */
    int8_t end; /* behind the last; what runs beside has memory from first on */
#ifndef BITTERN_NO_SINGLES
    uint16_t forms; /* of what always runs, 1 bit a section, the first in the highest */
#endif
} bittern_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const double *sections; /* rows of words */
    const uint16_t *lists; /* words for what settings pick, then the lists of what always runs */
    int16_t settle; /* samples that new sections run unheard */
    int16_t fade; /* samples of a fade */
    double step; /* 1 / fade */
    bittern_cascade_entry cascade[1 + BITTERN_WAYS]; /* common, then the ways */
} bittern_rate_entry;

static const unsigned char bittern_pick_table[3] = {
    255u, 0u, 1u
};

/* Which of the switches below each position is that settings change, at every rate. */
static const unsigned char bittern_position_table[10] = {
    0u, 1u, 2u, 1u, 2u, 1u, 2u, 3u, 1u, 2u
};
static const bittern_switch_entry bittern_switch_table[4] = {
    { 0u, 0u, { 0u, 0u, 1u } },
    { 2u, 0u, { 0u, 1u, 0u } },
    { 3u, 0u, { 0u, 1u, 0u } },
    { 4u, 0u, { 1u, 0u, 0u } }
};

/* b0, b1, b2, a1, a2 of every section. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef BITTERN_ONLY_48000
static const double bittern_sections_48000[140] = {
    /* 48000 Hz, common 0: common[0] high-pass, poles at 18 Hz, Q 0.707; direct, -218 dB */
    0.9983353060408954, -1.9966706120817908, 0.9983353060408954,
      -1.9966678408769813, 0.9966733832876548,
    /* 48000 Hz, sub 0: crossovers[0] low-pass, poles at 61.94 Hz, Q 0.707; direct, -232 dB */
    0.0017453594877449373, -0.0030699074688706647, 0.001390276115343363,
      -1.9885292119769824, 0.9885945764319538,
    /* 48000 Hz, sub 1: ways.sub.filters[0] pole-shift, poles at 22.03 Hz, Q 0.699; direct, -218 */
    /* dB */
    0.38496389476226456, -0.7672846301049722, 0.38233177806892826,
      -1.9958753632601993, 0.9958836635253441,
    /* 48000 Hz, sub 2: crossovers[0] low-pass, poles at 61.93 Hz, Q 0.707; direct, -258 dB */
    0.0011631062177125738, -0.0031836284026022475, 0.002190369131186309,
      -1.9885344558245737, 0.9885998076717409,
    /* 48000 Hz, bass 0: crossovers[0] high-pass, poles at 62.23 Hz, Q 0.708; direct, -242 dB */
    0.8554837738526319, -1.7109675477052637, 0.8554837738526319,
      -1.9884975460549472, 0.9885635221851834,
    /* 48000 Hz, bass 1: ways.bass.filters[0] pole-shift, poles at 37.75 Hz, Q 0.602; direct, */
    /* -247 dB */
    1.0067984805940344, -2.013596961188069, 1.0067984805940344,
      -1.9917947570745376, 0.9918190787171426,
    /* 48000 Hz, bass 2: crossovers[1] low-pass, poles at 440.4 Hz, Q 0.711; direct, -269 dB */
    0.008225532222403433, -0.009027325482400558, 0.004094991821873626,
      -1.9189848546359216, 0.9221756688731613,
    /* 48000 Hz, bass 3: crossovers[0] high-pass, poles at 62.36 Hz, Q 0.708; direct, -236 dB */
    1.0268504903165712, -2.045161340742833, 1.0183701796387332,
      -1.988466168725074, 0.9885324119265982,
    /* 48000 Hz, bass 4: ways.bass.filters[1] peak, poles at 145 Hz, Q 2.23; direct, -238 dB */
    1.0364854145119968, -2.0656052102423583, 1.0294920559768423,
      -1.9911531758477288, 0.9915120986673357,
    /* 48000 Hz, bass 5: crossovers[1] low-pass, poles at 419.8 Hz, Q 0.704; direct, -275 dB */
    -0.0014519476221653933, 0.0010198279828692012, 0.0034594218666526688,
      -1.922060371843046, 0.9249641566869102,
    /* 48000 Hz, mid 0: crossovers[1] high-pass, poles at 424.6 Hz, Q 0.714; direct, -273 dB */
    0.853984940018323, -1.707969880036646, 0.853984940018323,
      -1.9221173229334565, 0.9250882982412182,
    /* 48000 Hz, mid 1: crossovers[1] high-pass, poles at 435.9 Hz, Q 0.700; direct, -273 dB */
    0.9625587598210926, -1.9251175196421852, 0.9625587598210926,
      -1.9186352344207058, 0.921760951552426,
    /* 48000 Hz, mid 2: ways.mid.filters[0] peak, poles at 1.051 kHz, Q 1.62; direct, -283 dB */
    1.0288989672195683, -1.9705881205781235, 0.9604550129513121,
      -1.900673663881981, 0.9187793027933335,
    /* 48000 Hz, mid 3: crossovers[2] low-pass, poles at 3.293 kHz, Q 0.558; direct, -301 dB */
    -0.05261699997957035, 0.24706772885029343, -0.042547884126751645,
      -1.3342656117493452, 0.4617108967469102,
    /* 48000 Hz, mid 4: crossovers[2] low-pass, poles at 3.338 kHz, Q 1.32; direct, -304 dB */
    0.049303284981628066, -0.011185233220823335, 0.09432655384320646,
      -1.5585100567422696, 0.7184716620800091,
    /* 48000 Hz, mid 5: ways.mid.filters[1] high-shelf, poles at half the rate and 1.959 kHz; */
    /* direct, -310 dB */
    1.3638554022783609, -0.6403009807863649, -0.2596849364444071,
      0.11204267959240788, -0.6854388173768813,
    /* 48000 Hz, mid 6: crossovers[2] low-pass, poles at 3.47 kHz, Q 1.30; direct, -308 dB */
    0.1772635452746543, -0.054995916011643886, 0.018437620958829365,
      -1.5337788952217117, 0.704904937207188,
    /* 48000 Hz, mid 7: crossovers[2] low-pass, poles at 3.468 kHz, Q 0.534; direct, -301 dB */
    0.004831722020717029, 0.011010544914963307, 0.1521321575670678,
      -1.290993028694078, 0.4274705411056935,
    /* 48000 Hz, treble 0: ways.treble, poles at 1.856 kHz and 5.652 kHz; direct, -309 dB */
    0.6622575526150128, -1.3245151052300257, 0.6622575526150128,
      -1.261530371075502, 0.3742871315417848,
    /* 48000 Hz, treble 1: ways.treble.filters[0] peak, poles at 6.314 kHz, Q 2.59; direct, -304 */
    /* dB */
    0.966728579314316, -1.170949345828475, 0.7558787454386843,
      -1.174549322555969, 0.7268886771031774,
    /* 48000 Hz, treble 2: ways.treble, poles at 3.629 kHz, Q 0.754; direct, -308 dB */
    0.7249279498378922, -1.4498558996757844, 0.7249279498378922,
      -1.368188927679964, 0.5324735872847611,
    /* 48000 Hz, treble 3: ways.treble, poles at 3.281 kHz, Q 1.01; direct, -305 dB */
    0.7885225283678565, -1.577045056735713, 0.7885225283678565,
      -1.5056251298788312, 0.6536240309296424,
    /* 48000 Hz, treble 4: crossovers[2] high-pass, poles at 3.415 kHz, Q 1.51; direct, -303 dB */
    0.8271780358778386, -1.6543560717556771, 0.8271780358778386,
      -1.5739709562147264, 0.7441140524619199,
    /* 48000 Hz, sub 3: by choice; constant, -327 dB */
    0.7079457843841379, 0.0, 0.0,
      0.0, 0.0, /* sub-trim -3 dB: ways.sub.filters[1] gain, -3 dB */
    1.4125375446227542, 0.0, 0.0,
      0.0, 0.0, /* sub-trim 3 dB: ways.sub.filters[2] gain, 3 dB */
    /* sub-trim 0 dB: straight through */
    /* 48000 Hz, sub, bass, mid and treble: by choice; direct, -258 dB */
    /* wall free: common[2] peak, poles at 310 Hz, Q 1.31 */
    0.9980100856615033, -1.9677627783824367, 0.9713738143061534,
      -1.9677964144965425, 0.9694175326528979,
    /* wall flush: straight through */
    /* 48000 Hz, sub, bass, mid and treble: by choice; direct, -246 dB */
    /* wall free: common[1] low-shelf, poles at 146.8 Hz, Q 0.600 */
    1.0030163135176249, -1.9680692495666843, 0.965565937932108,
      -1.9681270817536625, 0.9684902597984248,
    /* wall flush: straight through */
    /* 48000 Hz, treble 5: by choice; direct, -321 dB */
    /* screen perforated: ways.treble.filters[1] high-shelf, poles at 9.67 kHz, Q 0.802 */
    1.1908869881784054, -0.7863109657896774, 0.3029316470867406,
      -0.4986721557396294, 0.20619753360221482
    /* screen none: straight through */
};
static const uint16_t bittern_lists_48000[19] = {
    10355u, 10360u, 10365u, 10370u, 10375u, 10240u, 0u, 26629u, 0u, 26644u, 26659u, 0u, 18482u,
    26684u, 26699u, 0u, 18522u, 26724u, 0u
};
#endif

#ifdef BITTERN_ONLY_96000
static const double bittern_sections_96000[140] = {
    /* 96000 Hz, common 0: common[0] high-pass, poles at 18 Hz, Q 0.707; direct, -210 dB */
    0.999167306331047, -1.998334612662094, 0.999167306331047,
      -1.9983339192834262, 0.9983353060408385,
    /* 96000 Hz, sub 0: crossovers[0] low-pass, poles at 62.01 Hz, Q 0.707; direct, -220 dB */
    0.0002141632281451801, -0.00041806499903420074, 0.00022041286151292991,
      -1.9942607704276962, 0.9942771924871169,
    /* 96000 Hz, sub 1: ways.sub.filters[0] pole-shift, poles at 22 Hz, Q 0.700; direct, -215 dB */
    0.382837320688839, -0.764356850216877, 0.3815222815980985,
      -1.9979434279365607, 0.9979454987367571,
    /* 96000 Hz, sub 2: crossovers[0] low-pass, poles at 62 Hz, Q 0.707; direct, -233 dB */
    -0.0005434452776227464, 0.0011499895614220396, -0.0005638664806383785,
      -1.9942612084708533, 0.9942776290465604,
    /* 96000 Hz, bass 0: crossovers[0] high-pass, poles at 61.99 Hz, Q 0.707; direct, -244 dB */
    0.8581098639455147, -1.7162197278910294, 0.8581098639455147,
      -1.9942629464680435, 0.994279363059887,
    /* 96000 Hz, bass 1: ways.bass.filters[0] pole-shift, poles at 38 Hz, Q 0.600; direct, -223 */
    /* dB */
    1.0091974363942027, -2.0183948727884053, 1.0091974363942027,
      -1.995857295021546, 0.9958634684061753,
    /* 96000 Hz, bass 2: crossovers[1] low-pass, poles at 430.6 Hz, Q 0.711; direct, -260 dB */
    -0.0003610252205588317, 0.0011927077308704695, -2.5860866035882927e-05,
      -1.960336181877128, 0.9611149581081793,
    /* 96000 Hz, bass 3: ways.bass.filters[1] peak, poles at 145 Hz, Q 2.23; direct, -233 dB */
    1.0370044143123118, -2.0704129067379475, 1.0335017300855451,
      -1.9956596758443166, 0.9957495464309474,
    /* 96000 Hz, bass 4: crossovers[1] low-pass, poles at 429.4 Hz, Q 0.704; direct, -264 dB */
    0.0012058479077605292, -0.0007997608197757419, 0.0003994936658246838,
      -1.9600716213994689, 0.9608457057818801,
    /* 96000 Hz, bass 5: crossovers[0] high-pass, poles at 62 Hz, Q 0.707; direct, -241 dB */
    1.0277806562607799, -2.0513141337319185, 1.0235482561503104,
      -1.9942585786909226, 0.9942749992574783,
    /* 96000 Hz, mid 0: crossovers[1] high-pass, poles at 428.5 Hz, Q 0.710; direct, -262 dB */
    0.8713650125964864, -1.7427300251929727, 0.8713650125964864,
      -1.9604903748905826, 0.9612614163998264,
    /* 96000 Hz, mid 1: crossovers[1] high-pass, poles at 431.6 Hz, Q 0.704; direct, -268 dB */
    0.9821930567058366, -1.9643861134116731, 0.9821930567058366,
      -1.9599123670653198, 0.960694369531861,
    /* 96000 Hz, mid 2: ways.mid.filters[0] peak, poles at 1.05 kHz, Q 1.62; direct, -270 dB */
    1.0370305829013036, -2.0341566017002375, 1.0019386724701604,
      -1.9539079977588003, 0.958530702320315,
    /* 96000 Hz, mid 3: crossovers[2] low-pass, poles at 3.406 kHz, Q 0.541; direct, -302 dB */
    0.02199550029826182, 0.05566136907630942, -0.028889077664594455,
      -1.621949035492656, 0.6625163000818531,
    /* 96000 Hz, mid 4: crossovers[2] low-pass, poles at 3.421 kHz, Q 1.30; direct, -298 dB */
    0.07570079594190156, -0.06338659854744773, 0.025870025308483056,
      -1.7962265528426462, 0.8420946914203944,
    /* 96000 Hz, mid 5: ways.mid.filters[1] high-shelf, poles at 2.028 kHz and half the rate; */
    /* direct, -312 dB */
    1.2060462902380276, -1.0211975889334213, -0.006108472568100876,
      -0.5368372385174376, -0.296719270786632,
    /* 96000 Hz, mid 6: crossovers[2] low-pass, poles at 3.391 kHz, Q 0.543; direct, -301 dB */
    0.045256241380019456, -0.062868138464617, 0.06714010042376362,
      -1.624148362101964, 0.6644138673666092,
    /* 96000 Hz, mid 7: crossovers[2] low-pass, poles at 3.38 kHz, Q 1.31; direct, -297 dB */
    0.016242731133455455, -0.06888762845196994, 0.08923833776262555,
      -1.7998955458239618, 0.8447406550782367,
    /* 96000 Hz, treble 0: ways.treble, poles at 3.362 kHz, Q 0.512; direct, -300 dB */
    0.8307127191433714, -1.6614254382867428, 0.8307127191433714,
      -1.6115685836647944, 0.6507802515104917,
    /* 96000 Hz, treble 1: ways.treble.filters[0] peak, poles at 6.301 kHz, Q 2.64; direct, -298 */
    /* dB */
    0.9831111349521386, -1.6987947339039138, 0.8708948208199476,
      -1.7001784034969603, 0.8553954041411213,
    /* 96000 Hz, treble 2: ways.treble, poles at 3.438 kHz, Q 0.574; direct, -297 dB */
    0.8368299008216807, -1.6736598016433615, 0.8368299008216807,
      -1.633976998030398, 0.6756840449662179,
    /* 96000 Hz, treble 3: crossovers[2] high-pass, poles at 3.392 kHz, Q 1.25; direct, -294 dB */
    0.8946771487346895, -1.789354297469379, 0.8946771487346895,
      -1.792472251081804, 0.8374415587284183,
    /* 96000 Hz, treble 4: crossovers[2] high-pass, poles at 3.406 kHz, Q 1.36; direct, -291 dB */
    0.8989588582842248, -1.7979177165684497, 0.8989588582842248,
      -1.8030005905193929, 0.8486385558978747,
    /* 96000 Hz, sub 3: by choice; constant, -327 dB */
    0.7079457843841379, 0.0, 0.0,
      0.0, 0.0, /* sub-trim -3 dB: ways.sub.filters[1] gain, -3 dB */
    1.4125375446227542, 0.0, 0.0,
      0.0, 0.0, /* sub-trim 3 dB: ways.sub.filters[2] gain, 3 dB */
    /* sub-trim 0 dB: straight through */
    /* 96000 Hz, sub, bass, mid and treble: by choice; direct, -242 dB */
    /* wall free: common[2] peak, poles at 310 Hz, Q 1.31 */
    0.9990011369603272, -1.9841730807512525, 0.9855804118765432,
      -1.9841824794370202, 0.9845909474801164,
    /* wall flush: straight through */
    /* 96000 Hz, sub, bass, mid and treble: by choice; direct, -245 dB */
    /* wall free: common[1] low-shelf, poles at 146.8 Hz, Q 0.600 */
    1.001508757886297, -1.984012400283416, 0.9826329367673156,
      -1.9840265033074747, 0.9841180367183003,
    /* wall flush: straight through */
    /* 96000 Hz, treble 5: by choice; direct, -308 dB */
    /* screen perforated: ways.treble.filters[1] high-shelf, poles at 9.672 kHz, Q 0.800 */
    1.262238165668291, -1.6305312203051947, 0.6362013987051051,
      -1.1854912172534597, 0.45340146476119264
    /* screen none: straight through */
};
static const uint16_t bittern_lists_96000[19] = {
    10355u, 10360u, 10365u, 10370u, 10375u, 10240u, 0u, 26629u, 0u, 26644u, 26659u, 0u, 18482u,
    26684u, 26699u, 0u, 18522u, 26724u, 0u
};
#endif

#ifdef BITTERN_NO_SINGLES
#define BITTERN_FORMS(forms)
#else
#define BITTERN_FORMS(forms) , (forms)
#endif

static const bittern_rate_entry bittern_rate_table[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, bittern_sections_48000, bittern_lists_48000, 1600, 480, 0.0020833333333333333, {
        { 0.44668359215096315, 10u, 5, 0, 23, 0, 0 BITTERN_FORMS(0x8000u) }, /* common */
        { 0.5011872336272724, 0u, 7, 1, 23, 0, 3 BITTERN_FORMS(0xe000u) }, /* sub */
        { 0.7079457843841379, 6u, 9, 4, 26, 3, 5 BITTERN_FORMS(0xfc00u) }, /* bass */
        { 0.7943282347242815, 9u, 12, 10, 28, 5, 7 BITTERN_FORMS(0xff00u) }, /* mid */
        { 0.44668359215096315, 10u, 16, 18, 30, 7, 10 BITTERN_FORMS(0xf800u) } /* treble */
    } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, bittern_sections_96000, bittern_lists_96000, 3200, 960, 0.0010416666666666667, {
        { 0.44668359215096315, 19u, 5, 0, 23, 0, 0 BITTERN_FORMS(0x8000u) }, /* common */
        { 0.5011872336272724, 0u, 7, 1, 23, 0, 3 BITTERN_FORMS(0xe000u) }, /* sub */
        { 0.7079457843841379, 12u, 9, 4, 26, 3, 5 BITTERN_FORMS(0xfc00u) }, /* bass */
        { 0.7943282347242815, 17u, 12, 10, 28, 5, 7 BITTERN_FORMS(0xff00u) }, /* mid */
        { 0.44668359215096315, 19u, 16, 18, 30, 7, 10 BITTERN_FORMS(0xf800u) } /* treble */
    } },
#endif
};

#define BITTERN_RATES ((int32_t)(sizeof bittern_rate_table / sizeof bittern_rate_table[0]))

const char bittern_screen_names[BITTERN_SCREEN_CHOICES][11] = {
    "none",
    "perforated"
};

const char bittern_wall_names[BITTERN_WALL_CHOICES][6] = {
    "flush",
    "free"
};

const char bittern_sub_trim_names[BITTERN_SUB_TRIM_CHOICES][6] = {
    "0 dB",
    "-3 dB",
    "3 dB"
};

/* ---- filters -------------------------------------------------------------------------- */

/* The first bits of x: without the sign they grow with its size. */
static inline uint32_t bittern_bits(double x)
{
    uint64_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return (uint32_t)(bits >> 32);
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline double bittern_from_int32(int32_t x)
{
    return (double)x * (double)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t bittern_to_int32(double x)
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
static BITTERN_NOINLINE const uint16_t * bittern_run_list(const double *table,
        const uint16_t *list, bittern_memory *m, double gain, const double *from, double *to, int n)
{
    BITTERN_AS_WRITTEN
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
        const double *const w = &table[word & BITTERN_ROW];
        const unsigned int head = word >> BITTERN_HEAD;
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
                const double x = gain * *from;
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
static void bittern_recall(const bittern_rate_entry *rate, const bittern_channel_state *ch,
        double *now)
{
    const int span = (int)rate->cascade[0].delay;
    const int k = (int)ch->delay_at;

    (void)memcpy(&now[-span], &ch->delay[k], (size_t)(span - k) * sizeof *now);
    (void)memcpy(&now[-k], ch->delay, (size_t)k * sizeof *now);
}

/* The last of n samples of now are remembered, and what is in front of them, the oldest first. */
static void bittern_remember(const bittern_rate_entry *rate, bittern_channel_state *ch,
        const double *now, int n)
{
    const int span = (int)rate->cascade[0].delay;

    (void)memcpy(ch->delay, &now[n - span], (size_t)span * sizeof *now);
    ch->delay_at = 0u;
}

/* n samples of a fade, from its sample from on: from io to other, or where there is no other from
 * silence to io; way is 1, or -1 to go back. */
static BITTERN_COLD void bittern_fade(double *io, const double *other, double step,
        int32_t from, int32_t way, int n)
{
    BITTERN_AS_WRITTEN
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
static BITTERN_COLD uint16_t *bittern_make_list(const bittern_rate_entry *rate,
        const bittern_channel_state *ch, int c, uint16_t *list)
{
    const bittern_cascade_entry *cascade = &rate->cascade[c];
    uint16_t *next = list;
    unsigned int follows = 0u; /* the word of the row behind the last one, of the same form */
    int k;
    int i;

    for (k = cascade->first; k < cascade->end; k++) {
        const bittern_switch_entry *choices = &bittern_switch_table[bittern_position_table[k]];
        unsigned int pick = choices->pick;
        unsigned int alternative;

        for (i = 0; i < BITTERN_SETTINGS; i++) {
            pick += (unsigned int)choices->stride[i] * ch->chosen[i];
        }
        alternative = bittern_pick_table[pick];
        if (alternative != BITTERN_NONE) {
            const unsigned int word = rate->lists[choices->word + alternative];

            if (word == follows && next != list && next[-1] < BITTERN_FULL) { /* one more */
                next[-1] = (uint16_t)(next[-1] + BITTERN_ONE_MORE);
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
static BITTERN_COLD void bittern_run_beside(const bittern_rate_entry *rate,
        bittern_channel_state *ch, int c, const double *io, double *beside, int n)
{
    const bittern_cascade_entry *cascade = &rate->cascade[c];
    uint16_t list[BITTERN_SWITCHES + 1];
    (void)bittern_make_list(rate, ch, c, list);
    (void)bittern_run_list(rate->sections, list, &ch->then[cascade->first],
        1.0, io, beside, n);
}

/* Gain and sections of cascade c over n samples, from -> io. What returns is where
 * the list of what settings pick begins of the next one. */
static inline const uint16_t * bittern_run_cascade(const bittern_rate_entry *rate,
        bittern_channel_state *ch, int c, const uint16_t *picked,
        const double *from, double *io, double *beside, int n)
{
    const bittern_cascade_entry *cascade = &rate->cascade[c];

    (void)bittern_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        cascade->gain, from, io, n);
    if (ch->change >= 0 && cascade->end > cascade->first) {
        bittern_run_beside(rate, ch, c, io, beside, n);
    }
    return *picked == 0u ? picked + 1
        : bittern_run_list(rate->sections, picked, &ch->now[cascade->split],
            1.0, io, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int bittern_run_common(const bittern_rate_entry *rate, bittern_channel_state *ch,
        const double *in, double *now, int n)
{
    BITTERN_AS_WRITTEN
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= bittern_bits(in[i]);
    }
    if ((sizes << 1) >= BITTERN_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (bittern_bits(in[good]) << 1) < BITTERN_GARBAGE) {
            good++;
        }
        if (good < n) {
            ch->dead = 1u;
            ch->calm = 0u;
        }
    }
    bittern_recall(rate, ch, now);
    if (good > 0) {
        (void)bittern_run_list(rate->sections, &rate->lists[rate->cascade[0].list],
            &ch->now[rate->cascade[0].from], rate->cascade[0].gain, in, now, good);
    }
    return good;
}

/* A way that is not calm: fades, and silence behind good samples. */
static BITTERN_COLD void bittern_shade(const bittern_rate_entry *rate,
        const bittern_channel_state *ch, const bittern_cascade_entry *cascade,
        double *io, const double *beside, int good, int n)
{
    int heard = good;
    int i;
    if (ch->change >= rate->settle && cascade->end > cascade->first) {
        bittern_fade(io, beside, rate->step, ch->change - rate->settle, 1, good);
    }
    if (ch->step != 0) {
        bittern_fade(io, NULL, rate->step, ch->open, ch->step, good);
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
static void bittern_run_ways(const bittern_rate_entry *rate, bittern_channel_state *ch,
        const double *now, int good, double *const *out, int at, int n)
{
    double beside[BITTERN_TICK];
    const uint16_t *picked = &ch->list[1]; /* behind that of the common part, which is empty */
    int c;

    for (c = 1; c <= BITTERN_WAYS; c++) {
        const bittern_cascade_entry *cascade = &rate->cascade[c];
        double *io = &out[c - 1][at];
        const double *from = &now[-(int)cascade->delay];

        if (good > 0) {
            picked = bittern_run_cascade(rate, ch, c, picked, from, io, beside, good);
        }
        if (ch->calm == 0u) {
            bittern_shade(rate, ch, &rate->cascade[c], io, beside, good, n);
        }
    }
    if (ch->calm == 0u) {
        if (ch->change >= 0) {
            ch->change = (int16_t)(ch->change + n);
        }
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
    bittern_remember(rate, ch, now, good);
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static BITTERN_NOINLINE void bittern_run_block(const bittern_rate_entry *rate, bittern_channel_state *ch,
        const double *in, double *const *out, int at, int n)
{
    double block[BITTERN_HISTORY + (int)BITTERN_TICK];
    double *const now = &block[BITTERN_HISTORY];
    int good;
    good = bittern_run_common(rate, ch, in, now, n);
    bittern_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef BITTERN_NO_SINGLES

/* The words of a row, and the next row is next. */
static BITTERN_INLINE void bittern_row_5(const double **w, bittern_section_words *row)
{
    row->b0 = (*w)[0];
    row->b1 = (*w)[1];
    row->b2 = (*w)[2];
    row->a1 = (*w)[3];
    row->a2 = (*w)[4];
    *w += 5;
}

/* What a section of channel 0 of two remembers. */
static inline bittern_memory bittern_load_0(const bittern_memory *m)
{
    return *m;
}

/* What it shall remember, and the next section is next. */
static inline void bittern_keep_0(bittern_memory **m, bittern_memory is)
{
    **m = is;
    *m += 1;
}

/* What a section of channel 1 of two remembers. */
static inline bittern_memory bittern_load_1(const bittern_memory *m)
{
    return *m;
}

/* What it shall remember, and the next section is next. */
static inline void bittern_keep_1(bittern_memory **m, bittern_memory is)
{
    **m = is;
    *m += 1;
}
/* A row of the table. */
static BITTERN_COLD const double *bittern_row_at(const bittern_rate_entry *rate,
        unsigned int row)
{
    return &rate->sections[row];
}

/* One sample of two channels that are calm and alike: x -> out[way][0].
 * What always runs of all cascades stands in the order in which it runs, rows as well as memory. */
static inline void bittern_step(const bittern_rate_entry *rate,
        bittern_channel_state *ch_0, bittern_channel_state *ch_1, double x_0, double x_1,
        double *const *out_0, double *const *out_1)
{
    BITTERN_AS_WRITTEN
    const bittern_cascade_entry *cascade = &rate->cascade[0];
    const bittern_cascade_entry *stop = &rate->cascade[BITTERN_WAYS];
    const double *w = rate->sections;
    bittern_memory *m_0 = ch_0->now;
    bittern_memory *m_1 = ch_1->now;
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
                    bittern_section_words row;
                    bittern_memory is_0 = bittern_load_0(m_0);
                    bittern_memory is_1 = bittern_load_1(m_1);

                    bittern_row_5(&w, &row);
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
                    bittern_keep_0(&m_0, is_0);
                    bittern_keep_1(&m_1, is_1);
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
            w = bittern_row_at(rate, word & BITTERN_ROW);
            forms = 0xffffffffu << (32u - (word >> 13));
            some = 1u;
        }
        *to_0 = x_0;
        *to_1 = x_1;
        if (cascade == stop) {
            stop = &rate->cascade[BITTERN_WAYS];
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
typedef struct bittern_frames bittern_frames;
struct bittern_frames {
    const double *in;
    double *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef BITTERN_NO_SINGLES
    bittern_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(bittern_frames *f, const bittern_rate_entry *rate,
        bittern_channel_state *ch, int k, int n, int apart);
    const double *ins[BITTERN_CHANNELS];
    double *outs[BITTERN_CHANNELS * BITTERN_WAYS];
    double from[BITTERN_TICK];
    double to[BITTERN_WAYS][BITTERN_TICK];
};
/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. Words and states of the ways stand in lanes of the state as
 * long as no channel fades, so that a single sample costs nothing to get there; what the channels
 * themselves remember of their ways is out of date then. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined BITTERN_NO_LANES
#define BITTERN_LANES 4 /* in a vector */
#define BITTERN_GROUPS 2 /* vectors that hold all lanes */
#define BITTERN_DEEP 12 /* sections of a lane, with those that a last pass has too many */
#define BITTERN_LONG 64 /* the most samples at once */
#if defined __AVX__
#define BITTERN_SAVING 3 /* half sections that one of all lanes has to stand for */
#else
#define BITTERN_SAVING 6
#endif

/* So that the loops over n samples are ones over one sample elsewhere. */
#define BITTERN_ALWAYS __attribute__((always_inline))

typedef double bittern_lanes __attribute__((vector_size(32)));
typedef int64_t bittern_marks __attribute__((vector_size(32)));
typedef double bittern_short __attribute__((vector_size(16)));
typedef int64_t bittern_short_marks __attribute__((vector_size(16)));

/* Words of two vectors in another order. */
#if defined __clang__ || __GNUC__ >= 12
#define BITTERN_SHUFFLE(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define BITTERN_SHUFFLE(a, b, ...) __builtin_shuffle(a, b, (bittern_short_marks){ __VA_ARGS__ })
#endif

/* Lanes of b where those of the mask are negative, otherwise of a, in one instruction. */
#if defined __AVX__ && defined __has_builtin
#if __has_builtin(__builtin_ia32_blendvpd256)
#define BITTERN_BLEND(a, b, mask) __builtin_ia32_blendvpd256(a, b, mask)
#endif
#endif

/* Loops that clang leaves as they stand. */
#ifdef __clang__
#define BITTERN_ROLLED _Pragma("clang loop unroll(disable)")
#else
#define BITTERN_ROLLED
#endif

/* Vectors, and each lane of them. */
typedef union {
    bittern_lanes all;
    double one[BITTERN_LANES];
} bittern_lane_words;

typedef union {
    bittern_marks all;
    int64_t one[BITTERN_LANES];
} bittern_lane_marks;

/* Section k of every lane. */
typedef struct {
    bittern_lane_words word[7]; /* b0, b1, b2, a1, a2, p, q */
    bittern_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    bittern_lane_words zero; /* -0, which adds nothing, to the bit, in all others */
    bittern_lane_words none; /* -0 in a lane that has no such section, otherwise 0 */
} bittern_lane_section;

/* Lanes beside each other in one vector. */
typedef struct {
    bittern_lane_section section[BITTERN_DEEP];
    bittern_lane_words gain;
    int32_t count[BITTERN_LANES]; /* sections of each */
    /* Which one begins at a section: how many it takes, and 8 times the form; 0: the end. */
    unsigned char pass[BITTERN_DEEP + 1];
    unsigned char alone[BITTERN_DEEP + 1]; /* the same for a single sample, with 32 times the form */
} bittern_lane_group;

/* All that the state keeps room for. */
typedef struct __attribute__((may_alias)) {
    bittern_lane_group group[BITTERN_GROUPS];
} bittern_lane_store;

/* There is room for it, wherever in the state a whole vector begins. */
typedef char bittern_lane_room[
    sizeof(bittern_lane_store) + 32u <= sizeof(((bittern_state *)0)->lanes) ? 1 : -1];

/* Where that begins, in bytes. */
static inline unsigned int bittern_lanes_begin(const bittern_state *s)
{
    return (32u - (unsigned int)((uintptr_t)s->lanes % 32u)) % 32u;
}

/* It, where lanes have been there since. */
static inline bittern_lane_group *bittern_lane_groups_at(bittern_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;

    return ((bittern_lane_store *)(void *)&room[s->lanes_at])->group;
}

/* That of a state, which may have been copied to where whole vectors begin elsewhere. */
static inline bittern_lane_group *bittern_lane_groups(bittern_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;
    const unsigned int at = bittern_lanes_begin(s);

    if (at != s->lanes_at) {
        (void)memmove(&room[at], &room[s->lanes_at], sizeof(bittern_lane_store));
        s->lanes_at = (unsigned char)at;
    }
    return bittern_lane_groups_at(s);
}

/* A state in lanes of the delta form, and -0 in all others. */
#ifdef BITTERN_BLEND
static const bittern_lanes bittern_nothing = {
    -0.0,
    -0.0,
    -0.0,
    -0.0,
};
#define BITTERN_BACK(state, s) \
    BITTERN_BLEND(bittern_nothing, state, (bittern_lanes)(s).keep.all)
#else
#define BITTERN_BACK(state, s) \
    ((bittern_lanes)(((bittern_marks)(state) & (s).keep.all) | (bittern_marks)(s).zero.all))
#endif

/* Words stay in memory: there is no room for all in registers, and copies gain nothing. */
static inline BITTERN_ALWAYS void bittern_lanes_direct_3(bittern_lane_section *s,
        bittern_lane_words *io, int n)
{
    BITTERN_AS_WRITTEN
    bittern_lanes p_0 = s[0].word[5].all;
    bittern_lanes q_0 = s[0].word[6].all;
    bittern_lanes p_1 = s[1].word[5].all;
    bittern_lanes q_1 = s[1].word[6].all;
    bittern_lanes p_2 = s[2].word[5].all;
    bittern_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const bittern_lanes x = io[i].all;
        const bittern_lanes y_0 = s[0].word[0].all * x + p_0;
        const bittern_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const bittern_lanes y_2 = s[2].word[0].all * y_1 + p_2;
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

static inline BITTERN_ALWAYS void bittern_lanes_direct_5(bittern_lane_section *s,
        bittern_lane_words *io, int n)
{
    BITTERN_AS_WRITTEN
    bittern_lanes p_0 = s[0].word[5].all;
    bittern_lanes q_0 = s[0].word[6].all;
    bittern_lanes p_1 = s[1].word[5].all;
    bittern_lanes q_1 = s[1].word[6].all;
    bittern_lanes p_2 = s[2].word[5].all;
    bittern_lanes q_2 = s[2].word[6].all;
    bittern_lanes p_3 = s[3].word[5].all;
    bittern_lanes q_3 = s[3].word[6].all;
    bittern_lanes p_4 = s[4].word[5].all;
    bittern_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const bittern_lanes x = io[i].all;
        const bittern_lanes y_0 = s[0].word[0].all * x + p_0;
        const bittern_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const bittern_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
        q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
        const bittern_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
        q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
        const bittern_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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

static inline BITTERN_ALWAYS void bittern_lanes_ragged_3(bittern_lane_section *s,
        bittern_lane_words *io, int n)
{
    BITTERN_AS_WRITTEN
    bittern_lanes p_0 = s[0].word[5].all;
    bittern_lanes q_0 = s[0].word[6].all;
    bittern_lanes p_1 = s[1].word[5].all;
    bittern_lanes q_1 = s[1].word[6].all;
    bittern_lanes p_2 = s[2].word[5].all;
    bittern_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const bittern_lanes x = io[i].all;
        const bittern_lanes y_0 = s[0].word[0].all * x + p_0;
        const bittern_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = BITTERN_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (bittern_lanes)((bittern_marks)p_0 | (bittern_marks)s[0].none.all);
        q_0 = (BITTERN_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const bittern_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = BITTERN_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (bittern_lanes)((bittern_marks)p_1 | (bittern_marks)s[1].none.all);
        q_1 = (BITTERN_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = BITTERN_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (bittern_lanes)((bittern_marks)p_2 | (bittern_marks)s[2].none.all);
        q_2 = (BITTERN_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline BITTERN_ALWAYS void bittern_lanes_ragged_5(bittern_lane_section *s,
        bittern_lane_words *io, int n)
{
    BITTERN_AS_WRITTEN
    bittern_lanes p_0 = s[0].word[5].all;
    bittern_lanes q_0 = s[0].word[6].all;
    bittern_lanes p_1 = s[1].word[5].all;
    bittern_lanes q_1 = s[1].word[6].all;
    bittern_lanes p_2 = s[2].word[5].all;
    bittern_lanes q_2 = s[2].word[6].all;
    bittern_lanes p_3 = s[3].word[5].all;
    bittern_lanes q_3 = s[3].word[6].all;
    bittern_lanes p_4 = s[4].word[5].all;
    bittern_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const bittern_lanes x = io[i].all;
        const bittern_lanes y_0 = s[0].word[0].all * x + p_0;
        const bittern_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = BITTERN_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (bittern_lanes)((bittern_marks)p_0 | (bittern_marks)s[0].none.all);
        q_0 = (BITTERN_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const bittern_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = BITTERN_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (bittern_lanes)((bittern_marks)p_1 | (bittern_marks)s[1].none.all);
        q_1 = (BITTERN_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const bittern_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = BITTERN_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (bittern_lanes)((bittern_marks)p_2 | (bittern_marks)s[2].none.all);
        q_2 = (BITTERN_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const bittern_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = BITTERN_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        p_3 = (bittern_lanes)((bittern_marks)p_3 | (bittern_marks)s[3].none.all);
        q_3 = (BITTERN_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = BITTERN_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        p_4 = (bittern_lanes)((bittern_marks)p_4 | (bittern_marks)s[4].none.all);
        q_4 = (BITTERN_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
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
static inline BITTERN_ALWAYS int bittern_lane_pass(unsigned int pass,
        bittern_lane_section *s, bittern_lane_words *io, int n)
{
    switch (pass) {
    case 11u:
        bittern_lanes_direct_3(s, io, n);
        break;
    case 13u:
        bittern_lanes_direct_5(s, io, n);
        break;
    case 35u:
        bittern_lanes_ragged_3(s, io, n);
        break;
    case 37u:
        bittern_lanes_ragged_5(s, io, n);
        break;
    default:
        break;
    }
    return (int)(pass % 8u);
}

/* A single sample of every lane, io, through a group's sections. */
static inline BITTERN_ALWAYS void bittern_lane_alone(bittern_lane_group *group, bittern_lanes *io)
{
    BITTERN_AS_WRITTEN
    bittern_lanes x = *io;
    bittern_lane_section *s = group->section;
    const unsigned char *run;

    for (run = group->alone; *run != 0u; run++) {
        unsigned int left = (unsigned int)*run % 32u;

        switch (*run / 32u) {
        case 1u: /* direct */
            BITTERN_ROLLED
            for (; left > 4u; left -= 5u) {
                bittern_lanes p_0 = s[0].word[5].all;
                bittern_lanes q_0 = s[0].word[6].all;
                const bittern_lanes y_0 = s[0].word[0].all * x + p_0;
                bittern_lanes p_1 = s[1].word[5].all;
                bittern_lanes q_1 = s[1].word[6].all;
                const bittern_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                bittern_lanes p_2 = s[2].word[5].all;
                bittern_lanes q_2 = s[2].word[6].all;
                const bittern_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
                s[1].word[5].all = p_1;
                q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                bittern_lanes p_3 = s[3].word[5].all;
                bittern_lanes q_3 = s[3].word[6].all;
                const bittern_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
                s[2].word[5].all = p_2;
                q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                bittern_lanes p_4 = s[4].word[5].all;
                bittern_lanes q_4 = s[4].word[6].all;
                const bittern_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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
            BITTERN_ROLLED
            for (; left != 0u; left--) {
                bittern_lanes p_0 = s[0].word[5].all;
                bittern_lanes q_0 = s[0].word[6].all;
                const bittern_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 4u: /* ragged */
            BITTERN_ROLLED
            for (; left > 4u; left -= 5u) {
                bittern_lanes p_0 = s[0].word[5].all;
                bittern_lanes q_0 = s[0].word[6].all;
                const bittern_lanes y_0 = s[0].word[0].all * x + p_0;
                bittern_lanes p_1 = s[1].word[5].all;
                bittern_lanes q_1 = s[1].word[6].all;
                const bittern_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = BITTERN_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all
                    * y_0);
                p_0 = (bittern_lanes)((bittern_marks)p_0 | (bittern_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (BITTERN_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                bittern_lanes p_2 = s[2].word[5].all;
                bittern_lanes q_2 = s[2].word[6].all;
                const bittern_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = BITTERN_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) -
                    s[1].word[3].all * y_1);
                p_1 = (bittern_lanes)((bittern_marks)p_1 | (bittern_marks)s[1].none.all);
                s[1].word[5].all = p_1;
                q_1 = (BITTERN_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                bittern_lanes p_3 = s[3].word[5].all;
                bittern_lanes q_3 = s[3].word[6].all;
                const bittern_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = BITTERN_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) -
                    s[2].word[3].all * y_2);
                p_2 = (bittern_lanes)((bittern_marks)p_2 | (bittern_marks)s[2].none.all);
                s[2].word[5].all = p_2;
                q_2 = (BITTERN_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                bittern_lanes p_4 = s[4].word[5].all;
                bittern_lanes q_4 = s[4].word[6].all;
                const bittern_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = BITTERN_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) -
                    s[3].word[3].all * y_3);
                p_3 = (bittern_lanes)((bittern_marks)p_3 | (bittern_marks)s[3].none.all);
                s[3].word[5].all = p_3;
                q_3 = (BITTERN_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = BITTERN_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) -
                    s[4].word[3].all * y_4);
                p_4 = (bittern_lanes)((bittern_marks)p_4 | (bittern_marks)s[4].none.all);
                s[4].word[5].all = p_4;
                q_4 = (BITTERN_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            BITTERN_ROLLED
            for (; left != 0u; left--) {
                bittern_lanes p_0 = s[0].word[5].all;
                bittern_lanes q_0 = s[0].word[6].all;
                const bittern_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = BITTERN_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all
                    * y_0);
                p_0 = (bittern_lanes)((bittern_marks)p_0 | (bittern_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (BITTERN_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
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
static BITTERN_NOINLINE void bittern_lane_passes(bittern_lane_group *group, bittern_lane_words *x, int n)
{
    int k = 0;

    while (group->pass[k] != 0u) {
        k += bittern_lane_pass(group->pass[k], &group->section[k], x, n);
    }
}

/* The sections of a list in lane l, from number k on, with what they remember. */
static int bittern_lane_fill(const double *table, const uint16_t *list,
        const bittern_memory *m, bittern_lane_group *group, int l, int k)
{
    for (; *list != 0u; list++) {
        const double *w = &table[*list & BITTERN_ROW];
        const unsigned int length = 5u;
        const int delta = ((unsigned int)*list >> BITTERN_HEAD & 3u) != 1u ? 1 : 0;
        unsigned int left = (unsigned int)*list >> 13;

        for (; left > 0u; left--) {
            bittern_lane_section *to = &group->section[k];
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
static inline const uint16_t *bittern_behind(const uint16_t *list)
{
    while (*list != 0u) {
        list++;
    }
    return list + 1;
}

/* A lane's sections; behind its last one some that change nothing. */
static void bittern_lane_enter(const bittern_rate_entry *rate, const bittern_channel_state *ch, int way,
        bittern_lane_group *group, int l)
{
    const bittern_cascade_entry *cascade = &rate->cascade[way];
    const uint16_t *picked = ch->list;
    int i;
    int k = bittern_lane_fill(rate->sections, &rate->lists[cascade->list],
        &ch->now[cascade->from], group, l, 0);
    for (i = 0; i < way; i++) {
        picked = bittern_behind(picked);
    }
    k = bittern_lane_fill(rate->sections, picked, &ch->now[cascade->split], group, l, k);
    group->count[l] = k;
    group->gain.one[l] = cascade->gain;
    for (; k < BITTERN_DEEP; k++) {
        bittern_lane_section *to = &group->section[k];
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
static unsigned int bittern_lane_forms(const bittern_lane_group *group, int from, int sections,
        int least)
{
    unsigned int forms = 0u;
    int l;

    for (l = 0; l < BITTERN_LANES * sections; l++) {
        const int k = from + l / BITTERN_LANES;

        forms |= group->section[k].keep.one[l % BITTERN_LANES] == 0 ? 1u : 2u;
    }
    return from + sections > least ? 4u : forms;
}

/* How single samples take a group's sections: those of one form in a row at once, with others
 * that follow where going along costs less than beginning anew. */
static void bittern_lane_plan_alone(bittern_lane_group *group, int least, int most)
{
    /* Operations of each form that direct ones do without. */
    static const int bittern_lane_more[] = { 0, 0, 1, 5, 6 };
    unsigned char *run = group->alone;
    unsigned int form = 0u;
    int count = 0;
    int k = 0;

    (void)memset(group->alone, 0, sizeof group->alone);
    while (k < most) {
        const unsigned int next = bittern_lane_forms(group, k, 1, least);
        const unsigned int any = form | next;
        const unsigned int both = any < 4u ? any : 4u;
        int n = 1;
        int cost;

        while (n < 31 && k + n < most
                && bittern_lane_forms(group, k + n, 1, least) == next) {
            n++;
        }
        cost = count * (bittern_lane_more[both] - bittern_lane_more[form])
            + n * (bittern_lane_more[both] - bittern_lane_more[next]);
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
static int bittern_lane_plan(bittern_lane_group *group)
{
    int least = group->count[0];
    int most = least;
    int k;
    int l;

    for (l = 1; l < BITTERN_LANES; l++) {
        least = group->count[l] < least ? group->count[l] : least;
        most = group->count[l] > most ? group->count[l] : most;
    }
    (void)memset(group->pass, 0, sizeof group->pass);
    for (k = 0; k < most;) {
        const int left = most - k;
        const int sections = left > 3 && left != 6 ? 5 : 3;
        const unsigned int forms = bittern_lane_forms(group, k, sections, least);

        group->pass[k] = (unsigned char)(forms * 8u + (unsigned int)sections);
        k += sections;
    }
    bittern_lane_plan_alone(group, least, most);
    return most;
}

/* How many lanes of a group there are. */
static int bittern_lanes_used(int group)
{
    const int left = BITTERN_CHANNELS * BITTERN_WAYS - group * BITTERN_LANES;

    return left < BITTERN_LANES ? left : BITTERN_LANES;
}

/* All ways begin to run in lanes where that saves anything. */
static BITTERN_COLD void bittern_enter_lanes(bittern_state *s)
{
    const bittern_rate_entry *rate = &bittern_rate_table[s->rate];
    bittern_lane_group *group = bittern_lane_groups(s);
    int all = 0;
    int most = 0;
    int k;
    int l;

    for (k = 0; k < BITTERN_GROUPS; k++) {
        const int used = bittern_lanes_used(k);
        int longest;

        for (l = 0; l < BITTERN_LANES; l++) { /* what is not used does as the first */
            const int lane = k * BITTERN_LANES + (l < used ? l : 0);

            bittern_lane_enter(rate, &s->channel[lane / BITTERN_WAYS], 1 + lane % BITTERN_WAYS,
                &group[k], l);
            all += l < used ? (int)group[k].count[l] : 0;
        }
        longest = bittern_lane_plan(&group[k]);
        most += longest;
    }
    s->laned = 2 * all > BITTERN_SAVING * most ? 1u : 2u;
}

/* What the ways remember goes back to where it belongs. */
static BITTERN_COLD void bittern_leave_lanes(bittern_state *s)
{
    const bittern_rate_entry *rate = &bittern_rate_table[s->rate];
    const bittern_lane_group *group = bittern_lane_groups(s);
    int lane;
    int k;

    for (lane = 0; lane < BITTERN_CHANNELS * BITTERN_WAYS && s->laned == 1u; lane++) {
        const bittern_lane_group *from = &group[lane / BITTERN_LANES];
        const bittern_cascade_entry *cascade = &rate->cascade[1 + lane % BITTERN_WAYS];
        bittern_memory *m = &s->channel[lane / BITTERN_WAYS].now[cascade->from];
        const int last = lane % BITTERN_WAYS == BITTERN_WAYS - 1 ? 1 : 0;
        const int fixed = (last != 0 ? rate->cascade[0].split : cascade[1].from) - cascade->from;

        for (k = 0; k < from->count[lane % BITTERN_LANES]; k++) {
            if (k == fixed) {
                m = &s->channel[lane / BITTERN_WAYS].now[cascade->split];
            }
            m->p = from->section[k].word[5].one[lane % BITTERN_LANES];
            m->q = from->section[k].word[6].one[lane % BITTERN_LANES];
            m++;
        }
    }
    s->laned = 0u;
}

/* Sections in lanes come to rest like others. */
static BITTERN_COLD void bittern_rest_lanes(bittern_state *s)
{
    const bittern_lanes above_p = {
        5.421010862427522e-20,
        5.421010862427522e-20,
        5.421010862427522e-20,
        5.421010862427522e-20,
    };
    const bittern_lanes below_p = {
        -5.421010862427522e-20,
        -5.421010862427522e-20,
        -5.421010862427522e-20,
        -5.421010862427522e-20,
    };
    const bittern_lanes above_q = {
        5.421010862427522e-20,
        5.421010862427522e-20,
        5.421010862427522e-20,
        5.421010862427522e-20,
    };
    const bittern_lanes below_q = {
        -5.421010862427522e-20,
        -5.421010862427522e-20,
        -5.421010862427522e-20,
        -5.421010862427522e-20,
    };
    bittern_lane_group *group = bittern_lane_groups(s);
    int k;

    for (k = 0; k < BITTERN_GROUPS * BITTERN_DEEP; k++) {
        bittern_lane_section *at = &group[k / BITTERN_DEEP].section[k % BITTERN_DEEP];
        const bittern_lanes p = at->word[5].all;
        const bittern_lanes q = at->word[6].all;
        const bittern_marks tiny = (p < above_p) & (p > below_p) & (q < above_q) & (q > below_q);
        at->word[5].all = (bittern_lanes)(((bittern_marks)p & ~tiny) | (bittern_marks)at->none.all);
        at->word[6].all = (bittern_lanes)(((bittern_marks)q & ~tiny) | (bittern_marks)at->none.all);
    }
}

/* 1 where no channel fades or is silent. */
static int bittern_calm(const bittern_state *s)
{
    int c;

    for (c = 0; c < BITTERN_CHANNELS; c++) {
        if (s->channel[c].calm == 0u) {
            return 0;
        }
    }
    return 1;
}

/* Turns a square of words about: word i of v[k] becomes word k of v[i]. */
static inline void bittern_turn(bittern_short *v)
{
    const bittern_short v1_0 = BITTERN_SHUFFLE(v[0], v[1], 0, 2);
    const bittern_short v1_1 = BITTERN_SHUFFLE(v[0], v[1], 1, 3);
    v[0] = v1_0;
    v[1] = v1_1;
}

/* Where the samples begin that a way hears. */
static const double *bittern_lane_from(const bittern_rate_entry *rate, int way,
        const double *now)
{
    const int delay = (int)rate->cascade[1 + way].delay;

    return &now[-delay];
}

/* What a lane hears of a single sample of the channels' common parts. */
static inline BITTERN_ALWAYS double bittern_lane_hears(const bittern_state *s,
        const bittern_rate_entry *rate, int lane, const double *now)
{
    const unsigned int late = 0xeu; /* a bit for each way that is late at some rate */
    const bittern_channel_state *const ch = &s->channel[lane / BITTERN_WAYS];
    const int way = lane % BITTERN_WAYS;

    if ((late >> way & 1u) != 0u && rate->cascade[1 + way].delay > 0u) {
        const int k = (int)ch->delay_at - (int)rate->cascade[1 + way].delay;

        return ch->delay[k < 0 ? k + (int)rate->cascade[0].delay : k];
    }
    return now[lane / BITTERN_WAYS];
}

/* The channels' common parts times gain -> x of lanes from on; what is not used gets what the first
 * does. */
static void bittern_lane_inputs(const bittern_rate_entry *rate, const bittern_lane_words *gains, int from, int used,
        double (*common)[BITTERN_HISTORY + BITTERN_LONG], bittern_lane_words *x, int n)
{
    BITTERN_AS_WRITTEN
    const int lane_0 = from;
    const double *from_0 = bittern_lane_from(rate, lane_0 % BITTERN_WAYS,
        &common[lane_0 / BITTERN_WAYS][BITTERN_HISTORY]);
    const int lane_1 = 1 < used ? from + 1 : from;
    const double *from_1 = bittern_lane_from(rate, lane_1 % BITTERN_WAYS,
        &common[lane_1 / BITTERN_WAYS][BITTERN_HISTORY]);
    const int lane_2 = 2 < used ? from + 2 : from;
    const double *from_2 = bittern_lane_from(rate, lane_2 % BITTERN_WAYS,
        &common[lane_2 / BITTERN_WAYS][BITTERN_HISTORY]);
    const int lane_3 = 3 < used ? from + 3 : from;
    const double *from_3 = bittern_lane_from(rate, lane_3 % BITTERN_WAYS,
        &common[lane_3 / BITTERN_WAYS][BITTERN_HISTORY]);
    int i;

    for (i = 0; i < n; i++) {
#if defined __AVX__
        {
            bittern_lanes gain;
            const bittern_lanes all = { from_0[i], from_1[i], from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const bittern_lanes scaled = gain * all;
                x[i].all = scaled;
            }
        }
#else
        {
            bittern_short gain;
            const bittern_short all = { from_0[i], from_1[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const bittern_short scaled = gain * all;
                (void)memcpy(&x[i].one[0], &scaled, sizeof scaled);
            }
        }
        {
            bittern_short gain;
            const bittern_short all = { from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[2], sizeof gain);
            {
                const bittern_short scaled = gain * all;
                (void)memcpy(&x[i].one[2], &scaled, sizeof scaled);
            }
        }
#endif
    }
}

/* x of lanes from on -> out. */
static void bittern_lane_outputs(const bittern_lane_words *x, int used, double *const *out,
        int at, int n)
{
    double spare[BITTERN_LONG]; /* of lanes that are not used */
    int l;

    for (l = 0; l < used; l += 2) {
        double *to_0 = l + 0 < used ? &out[l + 0][at] : spare;
        double *to_1 = l + 1 < used ? &out[l + 1][at] : spare;
        int i;

        for (i = 0; i < n - 2 + 1; i += 2) {
            bittern_short v[2];

            (void)memcpy(&v[0], &x[i + 0].one[l], sizeof v[0]);
            (void)memcpy(&v[1], &x[i + 1].one[l], sizeof v[1]);
            bittern_turn(v);
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
static void bittern_lane_give(const bittern_frames *f, const bittern_lane_words *x, int from, int used,
        int at, int n)
{
    int k = (at * BITTERN_CHANNELS * BITTERN_WAYS) + from;
    int i;
    int l;

    for (i = 0; i < n; i++) {
        if (used == BITTERN_LANES) {
            if (f->wide != 0) {
                for (l = 0; l < BITTERN_LANES; l++) {
                    f->out32[k + l] = bittern_to_int32(x[i].one[l]);
                }
            } else {
                (void)memcpy(&f->out[k], &x[i], sizeof x[i]);
            }
        } else {
            for (l = 0; l < used; l++) {
                if (f->wide != 0) {
                    f->out32[k + l] = bittern_to_int32(x[i].one[l]);
                } else {
                    f->out[k + l] = x[i].one[l];
                }
            }
        }
        k += BITTERN_CHANNELS * BITTERN_WAYS;
    }
}

/* The ways of a group's lanes, so many from on: in common[channel] -> out, or frames. */
static void bittern_run_lanes(const bittern_rate_entry *rate, bittern_lane_group *group, int from, int used,
        double (*common)[BITTERN_HISTORY + BITTERN_LONG], double *const *out, const bittern_frames *f, int at, int n)
{
    bittern_lane_words x[BITTERN_LONG];

    bittern_lane_inputs(rate, &group->gain, from, used, common, x, n);
    bittern_lane_passes(group, x, n);
    if (f != NULL) {
        bittern_lane_give(f, x, from, used, at, n);
    } else {
        bittern_lane_outputs(x, used, &out[from], at, n);
    }
}

/* n samples of a channel times the first gain: in -> now. What returns is not less than the size of
 * the greatest. */
static inline uint32_t bittern_lane_take(double gain, const double *in, double *now, int n)
{
    BITTERN_AS_WRITTEN
    uint32_t sizes = 0u;
    int i;

    for (i = 0; i < n; i++) {
        const double all = in[i];

        sizes |= bittern_bits(all);
        const double scaled = gain * all;
        now[i] = scaled;
    }
    return sizes << 1;
}

/* A channel's common part where there is more than the gain: in -> now. */
static void bittern_lane_common(const bittern_rate_entry *rate, bittern_channel_state *ch,
        const double *in, double *now, int n)
{
    const bittern_cascade_entry *cascade = &rate->cascade[0];

    if (rate->lists[cascade->list] != 0u) {
        (void)bittern_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from], cascade->gain, in, now, n);
    }
}

/* A single sample of two channels, or of one twice, through the sections of a list. */
static inline BITTERN_ALWAYS void bittern_lane_list(const double *table, const uint16_t *list,
        bittern_memory *m_0, bittern_memory *m_1, double *io_0, double *io_1)
{
    BITTERN_AS_WRITTEN
    double x_0 = *io_0;
    double x_1 = *io_1;

    for (; *list != 0u; list++) {
        const double *w = &table[*list & BITTERN_ROW];
        unsigned int left = (unsigned int)*list >> 13;

        switch ((unsigned int)*list >> BITTERN_HEAD & 3u) {
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
static inline BITTERN_ALWAYS int bittern_lane_sample(bittern_state *s, const bittern_rate_entry *rate,
        bittern_lane_group *group, const double *const *in, double *const *out,
        const bittern_frames *f, int framed, int at)
{
    BITTERN_AS_WRITTEN
    double now[BITTERN_CHANNELS];
    uint32_t size = 0u;
    int c;
    int g;

    if (framed == 0) {
        for (c = 0; c < BITTERN_CHANNELS; c++) {
            now[c] = in[c][at];
        }
    } else if (f->wide == 0) {
        (void)memcpy(now, &f->in[at * BITTERN_CHANNELS], sizeof now);
    } else {
        int k = at * BITTERN_CHANNELS;

        for (c = 0; c < BITTERN_CHANNELS; c++) {
            now[c] = bittern_from_int32(f->in32[k]);
            k++;
        }
    }
    for (c = 0; c < BITTERN_CHANNELS; c++) {
        size |= bittern_lane_take(rate->cascade[0].gain, &now[c], &now[c], 1);
    }
    if (size >= BITTERN_GARBAGE) {
        return 0;
    }
    for (c = 0; c < BITTERN_CHANNELS; c += 2) {
        const bittern_cascade_entry *const common = &rate->cascade[0];
        bittern_channel_state *const ch = &s->channel[c];
        const int mate = c + 1 < BITTERN_CHANNELS ? 1 : 0;

        bittern_lane_list(rate->sections, &rate->lists[common->list], &ch->now[common->from],
            &ch[mate].now[common->from], &now[c], &now[c + mate]);
    }
    for (g = 0; g < BITTERN_GROUPS; g++) {
        const int used = bittern_lanes_used(g);
        const bittern_lane_words *gains = &group[g].gain;
        const int lane_0 = g * BITTERN_LANES;
        const double x_0 = bittern_lane_hears(s, rate, lane_0, now);
        const int lane_1 = (1 < used ? 1 : 0) + g * BITTERN_LANES;
        const double x_1 = bittern_lane_hears(s, rate, lane_1, now);
        const int lane_2 = (2 < used ? 2 : 0) + g * BITTERN_LANES;
        const double x_2 = bittern_lane_hears(s, rate, lane_2, now);
        const int lane_3 = (3 < used ? 3 : 0) + g * BITTERN_LANES;
        const double x_3 = bittern_lane_hears(s, rate, lane_3, now);
        bittern_lane_words x;
#if defined __AVX__
        {
            bittern_lanes gain;
            const bittern_lanes all = { x_0, x_1, x_2, x_3 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const bittern_lanes scaled = gain * all;
                x.all = scaled;
            }
        }
#else
        {
            bittern_short gain;
            const bittern_short all = { x_0, x_1 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const bittern_short scaled = gain * all;
                (void)memcpy(&x.one[0], &scaled, sizeof scaled);
            }
        }
        {
            bittern_short gain;
            const bittern_short all = { x_2, x_3 };

            (void)memcpy(&gain, &gains->one[2], sizeof gain);
            {
                const bittern_short scaled = gain * all;
                (void)memcpy(&x.one[2], &scaled, sizeof scaled);
            }
        }
#endif
        if (framed != 0) {
            bittern_lane_alone(&group[g], &x.all);
            bittern_lane_give(f, &x, g * BITTERN_LANES, used, at, 1);
        } else {
            double *const *to = &out[g * BITTERN_LANES];
            bittern_lanes y = x.all;

            bittern_lane_alone(&group[g], &y);
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
    for (c = 0; c < BITTERN_CHANNELS; c++) {
        bittern_channel_state *const ch = &s->channel[c];
        const int next = (int)ch->delay_at;

        if (rate->cascade[0].delay > 0u) {
            ch->delay[next] = now[c];
            ch->delay_at = (unsigned char)(next + 1 < (int)rate->cascade[0].delay ? next + 1 : 0);
        }
    }
    return 1;
}

/* The same of samples, and of frames. */
static BITTERN_NOINLINE int bittern_step_lanes(bittern_state *s, const bittern_rate_entry *rate,
        bittern_lane_group *group, const double *const *in, double *const *out, int at)
{
    return bittern_lane_sample(s, rate, group, in, out, NULL, 0, at);
}

static BITTERN_NOINLINE int bittern_step_frame(bittern_state *s, const bittern_rate_entry *rate,
        bittern_lane_group *group, const bittern_frames *f, int at)
{
    return bittern_lane_sample(s, rate, group, NULL, NULL, f, 1, at);
}

/* n samples of all channels, from number at on: in -> out, or from where they begin -> frames. What
 * returns is 1, or 0 where one may be garbage. */
static BITTERN_NOINLINE int bittern_block_lanes(bittern_state *s, const bittern_rate_entry *rate,
        const double *const *in, double *const *out, const bittern_frames *f, int at, int n)
{
    bittern_lane_group *group = bittern_lane_groups(s);
    double common[BITTERN_CHANNELS][BITTERN_HISTORY + BITTERN_LONG];
    const int begin = f == NULL ? at : 0;
    uint32_t size = 0u;
    int k;

    for (k = 0; k < BITTERN_CHANNELS; k++) {
        size |= bittern_lane_take(rate->cascade[0].gain, &in[k][begin], &common[k][BITTERN_HISTORY], n);
    }
    if (size >= BITTERN_GARBAGE) {
        return 0;
    }
    for (k = 0; k < BITTERN_CHANNELS; k++) {
        bittern_lane_common(rate, &s->channel[k], &in[k][begin], &common[k][BITTERN_HISTORY], n);
        bittern_recall(rate, &s->channel[k], &common[k][BITTERN_HISTORY]);
    }
    for (k = 0; k < BITTERN_GROUPS; k++) {
        bittern_run_lanes(rate, &group[k], k * BITTERN_LANES, bittern_lanes_used(k), common, out, f, at, n);
    }
    for (k = 0; k < BITTERN_CHANNELS; k++) {
        bittern_remember(rate, &s->channel[k], &common[k][BITTERN_HISTORY], n);
    }
    return 1;
}

/* n frames, from number at on. What returns is 1, or 0 where one may have garbage. */
static BITTERN_NOINLINE int bittern_frame_lanes(bittern_state *s, const bittern_rate_entry *rate,
        const bittern_frames *f, int at, int n)
{
    double now[BITTERN_CHANNELS][BITTERN_LONG];
    const double *in[BITTERN_CHANNELS];
    int c;
    int i;

    for (c = 0; c < BITTERN_CHANNELS; c++) {
        int k = (at * BITTERN_CHANNELS) + c;

        in[c] = now[c];
        for (i = 0; i < n; i++) {
            now[c][i] = f->wide != 0 ? bittern_from_int32(f->in32[k]) : f->in[k];
            k += BITTERN_CHANNELS;
        }
    }
    return bittern_block_lanes(s, rate, in, NULL, f, at, n);
}

/* Runs all channels where none fades or is silent, no sample may be garbage, and lanes are
 * faster: n samples at least, all at most. What returns is how many there were; 0: none, and the
 * channels have what belongs to them. */
static inline int bittern_run_calm(bittern_state *s, const bittern_rate_entry *rate,
        const double *const *in, double *const *out, const bittern_frames *f, int at, int n, int all)
{
    int good;

    if (s->laned == 0u && bittern_calm(s) != 0) {
        bittern_enter_lanes(s);
    }
    if (s->laned != 1u) {
        return 0;
    }
    if (s->count % BITTERN_TICK == 0u && all > n) { /* nothing is asked for, so that it may go on */
        const int left = (int)(BITTERN_REST - s->count);

        n = left < BITTERN_LONG ? left : BITTERN_LONG;
        n = all < n ? all : n;
    }
    if (n == 1) {
        bittern_lane_group *const group = bittern_lane_groups(s);

        good = f != NULL ? bittern_step_frame(s, rate, group, f, at)
            : bittern_step_lanes(s, rate, group, in, out, at);
    } else if (f != NULL) {
        good = bittern_frame_lanes(s, rate, f, at, n);
    } else {
        good = bittern_block_lanes(s, rate, in, out, NULL, at, n);
    }
    if (good == 0) {
        bittern_leave_lanes(s);
        return 0;
    }
    return n;
}
#endif


/* ---- what happens at ticks ------------------------------------------------------------ */

/* The lists of all cascades, one behind the other. */
static BITTERN_COLD void bittern_make_lists(const bittern_rate_entry *rate, bittern_channel_state *ch)
{
    uint16_t *next = ch->list;
    int c;

    for (c = 0; c <= BITTERN_WAYS; c++) {
        next = bittern_make_list(rate, ch, c, next);
    }
}

/* Settings at a tick: a change that is over is what runs, and one that is asked for begins. */
static void bittern_change_settings(const bittern_rate_entry *rate, bittern_channel_state *ch,
        const volatile unsigned char *asked)
{
    if (ch->change == rate->settle + rate->fade) {
        /* all cascades' stand behind each other, here as there */
        (void)memcpy(&ch->now[rate->cascade[0].split], ch->then,
            (size_t)rate->cascade[BITTERN_WAYS].end * sizeof ch->then[0]);
        bittern_make_lists(rate, ch);
        ch->change = -1;
    }
    if (ch->change < 0) {
        unsigned int differ = 0u;
        int k;

        for (k = 0; k < BITTERN_SETTINGS; k++) {
            const unsigned char wanted = asked[k];

            differ |= (unsigned int)wanted ^ ch->chosen[k];
            ch->chosen[k] = wanted;
        }
        if (ch->fresh != 0u) {
            bittern_make_lists(rate, ch);
        } else if (differ != 0u) {
            (void)memset(ch->then, 0, sizeof ch->then);
            ch->change = 0;
        } else {
            /* as before */
        }
    }
}

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static BITTERN_COLD void bittern_rest(bittern_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if ((bittern_bits(m[k].p) << 1) < 0x77e00000u
                && (bittern_bits(m[k].q) << 1) < 0x77e00000u) {
            m[k].p = 0.0;
            m[k].q = 0.0;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void bittern_tick_channel(const bittern_rate_entry *rate, bittern_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[BITTERN_MUTE];

    bittern_change_settings(rate, ch, asked);
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

#ifndef BITTERN_NO_SINGLES
/* Channels that may take single samples together. Their delays are in step: blocks leave them
 * beginning in front, and both of two go as blocks or both together. */
static void bittern_find_mates(bittern_state *s)
{
    int c;

    for (c = 0; c < BITTERN_CHANNELS - 1; c += 2) {
        bittern_channel_state *const ch = &s->channel[c];

        if (ch->calm != 0u && ch[1].calm != 0u
                && memcmp(ch->chosen, ch[1].chosen, sizeof ch->chosen) == 0) {
            ch->calm = 2u;
        }
    }
}
#endif

/* What is due of all channels. */
static BITTERN_COLD void bittern_tick(bittern_state *s, const bittern_rate_entry *rate)
{
    int c;

    for (c = 0; c < BITTERN_CHANNELS; c++) {
        bittern_channel_state *ch = &s->channel[c];

        bittern_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            bittern_rest(ch->now, BITTERN_POSITIONS);
            bittern_rest(ch->then, BITTERN_THEN); /* idle ones, too */
        }
    }
#ifndef BITTERN_NO_SINGLES
    bittern_find_mates(s);
#endif
#ifdef BITTERN_LANES
    if (bittern_calm(s) == 0) {
        bittern_leave_lanes(s);
    } else if (s->count == 0u && s->laned == 1u) {
        bittern_rest_lanes(s);
    } else {
        /* nothing is due in lanes */
    }
#endif
}

/* Of n samples those before the next tick; what is due before them is done. */
static int bittern_begin(bittern_state *s, const bittern_rate_entry *rate, int n)
{
    const uint32_t into = s->count % BITTERN_TICK;
    const int left = (int)(BITTERN_TICK - into);

    if (into == 0u) {
        bittern_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static inline const bittern_rate_entry *bittern_rate_here(const bittern_state *s)
{
    return s->ready != BITTERN_READY || s->check != BITTERN_CHECK || s->rate < 0
            || s->rate >= BITTERN_RATES ? NULL : &bittern_rate_table[s->rate];
}

static BITTERN_NOINLINE const bittern_rate_entry *bittern_rate_of(const bittern_state *s)
{
    return bittern_rate_here(s);
}

/* 1 also for a channel that does not exist. */
static BITTERN_COLD int bittern_refuse_channel(const bittern_state *s, int channel)
{
    return channel < 0 || channel >= BITTERN_CHANNELS || bittern_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static BITTERN_COLD int bittern_ask(bittern_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char bittern_choices[BITTERN_MUTE + 1] = { 2u, 2u, 3u, 2u };

    if (choice >= bittern_choices[what] || bittern_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static BITTERN_COLD int bittern_asked(const bittern_state *s, int channel, int what)
{
    return bittern_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static BITTERN_COLD void bittern_silence(bittern_channel_state *ch)
{

    (void)memset(ch, 0, sizeof *ch);
    ch->change = -1;
    ch->fresh = 1u;
}

/* In all of them. */
static BITTERN_COLD void bittern_silence_all(bittern_state *s)
{
    int c;

    for (c = 0; c < BITTERN_CHANNELS; c++) {
        bittern_silence(&s->channel[c]);
    }
    s->count = 0u;
#ifdef BITTERN_LANES
    s->laned = 0u;
#endif
}

/* Starts at a rate; 1 where there is no such. */
static BITTERN_COLD int bittern_start(bittern_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < BITTERN_RATES; i++) {
        if (bittern_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            bittern_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int bittern_set_rate(bittern_state *s, uint32_t rate_hz)
{
    return bittern_rate_of(s) == NULL ? 1 : bittern_start(s, rate_hz);
}

int bittern_init(bittern_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (bittern_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = BITTERN_READY;
    s->check = BITTERN_CHECK;
    return 0;
}

void bittern_reset(bittern_state *s)
{
    if (bittern_rate_of(s) != NULL) {
        bittern_silence_all(s);
    }
}

int bittern_reset_channel(bittern_state *s, int channel)
{
    if (bittern_refuse_channel(s, channel) != 0) {
        return 1;
    }
#ifdef BITTERN_LANES
    bittern_leave_lanes(s);
#endif
    bittern_silence(&s->channel[channel]);
    return 0;
}

int bittern_set_screen(bittern_state *s, int channel, enum bittern_screen choice)
{
    return bittern_ask(s, channel, 0, (unsigned int)choice);
}

int bittern_get_screen(const bittern_state *s, int channel)
{
    return bittern_asked(s, channel, 0);
}

int bittern_set_wall(bittern_state *s, int channel, enum bittern_wall choice)
{
    return bittern_ask(s, channel, 1, (unsigned int)choice);
}

int bittern_get_wall(const bittern_state *s, int channel)
{
    return bittern_asked(s, channel, 1);
}

int bittern_set_sub_trim(bittern_state *s, int channel, enum bittern_sub_trim choice)
{
    return bittern_ask(s, channel, 2, (unsigned int)choice);
}

int bittern_get_sub_trim(const bittern_state *s, int channel)
{
    return bittern_asked(s, channel, 2);
}

int bittern_mute(bittern_state *s, int channel, int on)
{
    return bittern_ask(s, channel, BITTERN_MUTE, on != 0 ? 1u : 0u);
}

int bittern_muted(const bittern_state *s, int channel)
{
    return bittern_asked(s, channel, BITTERN_MUTE);
}

int bittern_garbage(const bittern_state *s, int channel)
{
    return bittern_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static BITTERN_BLOCKS int bittern_run_all(bittern_state *s, const double *const *in,
        double *const *out, bittern_frames *f, int n)
{
    const bittern_rate_entry *const rate = bittern_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = bittern_begin(s, rate, n - done);
        int c;
#ifdef BITTERN_LANES
        const int together = bittern_run_calm(s, rate, in, out, f, done, chunk, n - done);

        if (together > 0) {
            s->count = (s->count + (uint32_t)together) % BITTERN_REST;
            done += together;
            continue;
        }
#endif
        for (c = 0; c < BITTERN_CHANNELS; c++) {
            bittern_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * BITTERN_CHANNELS) + c, chunk,
                    BITTERN_CHANNELS);
            } else {
                bittern_run_block(rate, ch, &in[c][done], &out[c * BITTERN_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % BITTERN_REST;
        done += chunk;
    }
    return 0;
}

#ifdef BITTERN_LANES
/* A single sample of all channels, or a frame where there are frames, in lanes where nothing is due
 * before it. What returns is 1, or 0: nothing has happened. */
static inline int bittern_run_alone(bittern_state *s, const double *const *in,
        double *const *out, const bittern_frames *f)
{
    const bittern_rate_entry *const rate = bittern_rate_here(s);
    bittern_lane_group *group;
    int good;

    if (rate == NULL || s->laned != 1u || s->count % BITTERN_TICK == 0u
            || s->lanes_at != bittern_lanes_begin(s)) {
        return 0;
    }
    group = bittern_lane_groups_at(s);
    good = f != NULL ? bittern_step_frame(s, rate, group, f, 0)
        : bittern_step_lanes(s, rate, group, in, out, 0);
    s->count = (s->count + (uint32_t)good) % BITTERN_REST;
    return good;
}
#endif

#ifndef BITTERN_NO_SINGLES
/* One sample of all channels: two that are calm and alike go through sections beside each other. */
static BITTERN_NOINLINE int bittern_run_one(bittern_state *s, const double *const *in,
        double *const *out)
{
    const bittern_rate_entry *const rate = bittern_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)bittern_begin(s, rate, 1);
#ifdef BITTERN_LANES
    if (bittern_run_calm(s, rate, in, out, NULL, 0, 1, 1) > 0) {
        s->count = (s->count + 1u) % BITTERN_REST;
        return 0;
    }
#endif
    s->count = (s->count + 1u) % BITTERN_REST;
    for (c = 0; c < BITTERN_CHANNELS; c += 2) {
        const int other = c + 1;
        bittern_channel_state *const ch = &s->channel[c];
        bittern_channel_state *const mate = &s->channel[other];
        const double x = *in[c];
        const double y = *in[other];

        if ((unsigned int)ch->calm + mate->calm > 2u /* alike, and both are calm still */
                && ((bittern_bits(x) | bittern_bits(y)) << 1) < BITTERN_GARBAGE) {
            bittern_step(rate, ch, mate, x, y, &out[c * BITTERN_WAYS], &out[other * BITTERN_WAYS]);
        } else {
            int k;

            for (k = c; k <= other; k++) {
                bittern_run_block(rate, &s->channel[k], in[k], &out[k * BITTERN_WAYS], 0, 1);
            }
        }
    }
    return 0;
}

#endif

int bittern_run(bittern_state *s, const double *const *in, double *const *out, int n)
{
#ifdef BITTERN_LANES
    if (n == 1 && bittern_run_alone(s, in, out, NULL) != 0) {
        return 0;
    }
#endif
#ifndef BITTERN_NO_SINGLES
    if (n == 1) {
        return bittern_run_one(s, in, out);
    }
#endif
    return bittern_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static BITTERN_SMALL int bittern_through(bittern_frames *f, const bittern_rate_entry *rate,
        bittern_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? bittern_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef BITTERN_NO_SINGLES
    if (ch == NULL) {
        if (bittern_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        bittern_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * BITTERN_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < BITTERN_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = bittern_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * BITTERN_WAYS;
    }
    return 0;
}

/* n frames. */
static BITTERN_SMALL int bittern_run_side_by_side(bittern_state *s, bittern_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;

#ifdef BITTERN_LANES
    if (n == 1 && bittern_run_alone(s, NULL, NULL, f) != 0) {
        return 0;
    }
#endif
#ifndef BITTERN_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = BITTERN_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < BITTERN_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef BITTERN_NO_SINGLES
    if (n == 1) {
        return bittern_through(f, NULL, NULL, 0, BITTERN_CHANNELS, 1);
    }
#endif
    f->through = bittern_through;
    return bittern_run_all(s, NULL, NULL, f, n);
}

int bittern_run_frames(bittern_state *s, const double *in, double *out, int n)
{
    bittern_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return bittern_run_side_by_side(s, &f, n);
}

int bittern_run_frames_int32(bittern_state *s, const int32_t *in, int32_t *out, int n)
{
    bittern_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return bittern_run_side_by_side(s, &f, n);
}

#undef BITTERN_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
