/* Included behind a header's code, whose tables are made writable, and its self-test: changes
 * the tables one by one, lets the self-test judge each and prints what it said, a line each:
 * kind of mutant, where, result, and by how much any output at all was off, re what is within
 * tolerance. STEM, UPPER, TYPE, FULL, WITHIN, CHOICES and RATE are put in by the test, and a call of STEM_seen
 * into the self-test where it takes outputs into its hash. */
#include <stdio.h>
#include <string.h>

#define COUNT(table) ((int)(sizeof(table) / sizeof(table)[0]))

/* The row of the tables of the rate, and of the self-test's. */
static STEM_rate_entry *entry(void)
{
    int i = 0;

    while (STEM_rate_table[i].rate_hz != RATEu) {
        i++;
    }
    return &STEM_rate_table[i];
}

/* All outputs of the filters as they are, and how far a mutant's are off. */
static double kept[3000000];
static int seen;
static int keeping = 1;
static double off;

static void STEM_seen(int how, int size)
{
    int k;
    int i;

    for (k = 0; k < UPPER_SELFTEST_OUTPUTS; k++) {
        for (i = 0; i < size && seen < COUNT(kept); i++) {
            const int at = i * STEM_selftest_stride(how, UPPER_SELFTEST_OUTPUTS) + STEM_selftest_first(how, k);
            const double y = how == (int)UPPER_SELFTEST_INT32 ? (double)STEM_selftest.out.wide[at] / 2147483648.0
                : (double)STEM_selftest.out.word[at] / FULL;
            double d = y - kept[seen];

            if (keeping) {
                kept[seen] = y;
            } else {
                d = (d < 0 ? -d : d) / WITHIN;
                off = d <= off ? off : d < 1e9 ? d : 1e9;
            }
            seen++;
        }
    }
}

static int judged(void)
{
    int i = 0;

    seen = 0;
    off = 0;

    while (STEM_selftest_rates[i].hz != RATEu) {
        i++;
    }
    return STEM_selftest_one(&STEM_selftest_rates[i], 1);
}

static void say(const char *kind, int where, int which)
{
    const int result = judged();

    printf("%s %d.%d %d %.6g\n", kind, where, which, result, off);
}

/* A number in six ways wrong. */
static void number(const char *what, TYPE *x, int where, int which)
{
    static const struct {
        const char *kind;
        double times;
    } by[] = { { "1e-5", 1.00001 }, { "1e-5", 0.99999 }, { "1e-3", 1.001 }, { "1e-3", 0.999 }, { "sign", -1.0 } };
    const TYPE was = *x;
    int i;

    for (i = 0; i < COUNT(by) && was != 0; i++) {
        char kind[40];

        snprintf(kind, sizeof kind, "%s-%s", what, by[i].kind);
        *x = (TYPE)((double)was * by[i].times);
        if (memcmp(x, &was, sizeof was) != 0) { /* a small whole number may not have such neighbours */
            say(kind, where, which);
        }
    }
    *x = was;
}

/* The word of a list that runs a row, from one on; 0 where none does. */
static unsigned run_from(const int list, int row)
{
    int i;

    for (i = list; STEM_lists_RATE[i] != 0; i++) { /* the row of a pass's first section, and how many follow */
        const int first = (int)(STEM_lists_RATE[i] & UPPER_ROW);
        const int sections = (int)(STEM_lists_RATE[i] >> (8 * sizeof STEM_lists_RATE[i] - 3));

        if (first <= row && row < first + sections) {
            return STEM_lists_RATE[i];
        }
    }
    return 0;
}

/* The cascade that always runs a row, and in which form; -1 where a setting picks it. */
static int cascade_of(int row, unsigned *form)
{
    int c;

    for (c = 0; c <= UPPER_WAYS; c++) {
        const unsigned word = run_from(entry()->cascade[c].list, row);

        if (word != 0) {
            *form = (word & ((1u << (8 * sizeof STEM_lists_RATE[0] - 3)) - 1u)) >> UPPER_HEAD;
            return c;
        }
    }
    return -1;
}

/* Whether a row is run at all: there are none but those that lists or settings pick, or one
 * that stands for nothing. */
static int runs(int row)
{
#ifdef UPPER_THEN
    (void)row;
    return 1;
#else
    unsigned form;

    return cascade_of(row, &form) >= 0;
#endif
}

static void swapped(int a, int b)
{
    const STEM_section_words was = STEM_sections_RATE[a];
    unsigned form_a = 0;
    unsigned form_b = 0;
    const int c = cascade_of(a, &form_a);
    const int same = c >= 0 && cascade_of(b, &form_b) == c && form_a == form_b;

    if (memcmp(&was, &STEM_sections_RATE[b], sizeof was) == 0) {
        return;
    }
    STEM_sections_RATE[a] = STEM_sections_RATE[b];
    STEM_sections_RATE[b] = was;
    say(same ? "order" : "swap", a, b);
    STEM_sections_RATE[b] = STEM_sections_RATE[a];
    STEM_sections_RATE[a] = was;
}

#ifdef UPPER_THEN
/* A setting that changes nothing at one position, and at all. */
static void dropped(void)
{
    int k;
    int s;

    for (s = 0; s < UPPER_SETTINGS; s++) {
        STEM_switch_entry was[COUNT(CHOICES)];
        int any = 0;

        memcpy(was, CHOICES, sizeof was);
        for (k = 0; k < COUNT(was); k++) {
            if (was[k].stride[s] != 0) {
                any = 1;
                CHOICES[k].stride[s] = 0;
                say("dropped", k, s);
                CHOICES[k] = was[k];
            }
        }
        for (k = 0; k < COUNT(was); k++) {
            CHOICES[k].stride[s] = 0;
        }
        if (any) {
            say("dropped", -1, s);
        }
        memcpy(CHOICES, was, sizeof was);
    }
}
#endif

int main(void)
{
    int k;
    int j;

    say("none", 0, 0);
    keeping = 0;
    for (k = 0; k < COUNT(STEM_sections_RATE); k++) {
        TYPE *const words = (TYPE *)&STEM_sections_RATE[k];

        if (!runs(k)) {
            continue;
        }
        for (j = 0; j < (int)(sizeof(STEM_section_words) / sizeof(TYPE)); j++) {
            number("word", &words[j], k, j);
        }
        for (j = k + 1; j < COUNT(STEM_sections_RATE); j++) {
            if (runs(j)) {
                swapped(k, j);
            }
        }
    }
    for (k = 0; k <= UPPER_WAYS; k++) {
        number("gain", &entry()->cascade[k].gain, k, 0);
#ifdef UPPER_DELAY_WORDS
        if (entry()->cascade[k].delay > 0) {
            entry()->cascade[k].delay--;
            say("delay", k, 0);
            entry()->cascade[k].delay++;
        }
#endif
    }
    entry()->fade += 32;
    say("fade", 0, 0);
    entry()->fade -= 32;
    number("step", &entry()->step, 0, 0);
#ifdef UPPER_THEN
    entry()->settle -= 32;
    say(STEM_selftest_rates[0].change > 0 && STEM_selftest_rates[0].hz == RATEu ? "settle" : "unsettled", 0, 0);
    entry()->settle += 32;
#endif
#ifdef UPPER_THEN
    dropped();
#endif
    say("none", 0, 0);
    return 0;
}
