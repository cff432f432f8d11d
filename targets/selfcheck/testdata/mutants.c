/* Included behind a header's code, whose tables are made writable, and its self-test: changes
 * the tables one by one, lets the self-test judge each and prints what it said, a line each:
 * kind of mutant, where, result, and by how much any output at all was off, re what is within
 * tolerance. STEM, UPPER, TYPE, FULL, WITHIN, CHOICES and RATE are put in by the test, LENGTH(form) is how many
 * words a row has, and a call of STEM_seen stands in the self-test where it takes outputs into its hash. */
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

/* A row of the table of sections, as a list runs it. */
typedef struct {
    int at, words;
    int list; /* where the word of the list is that runs it */
    int form;
} row_run;

static row_run rows[1000];
static int row_count;

#define LIST_BITS (8 * (int)sizeof STEM_lists_RATE[0] - 3)

/* Finds the rows that lists or settings pick: one that stands for nothing is in no list. */
static void find_rows(void)
{
    int i;
    int j;

    for (i = 0; i < COUNT(STEM_lists_RATE); i++) { /* the row of a pass's first section, and how many follow */
        const unsigned word = STEM_lists_RATE[i];
        const int form = (int)((word & ((1u << LIST_BITS) - 1u)) >> UPPER_HEAD);

        for (j = 0; j < (int)(word >> LIST_BITS); j++) {
            const int words = LENGTH(form);
            const row_run row = { (int)(word & UPPER_ROW) + j * words, words, i, form };

            rows[row_count] = row;
            row_count++;
        }
    }
}

/* The cascade that always runs a row; -1 where a setting picks it. */
static int cascade_of(const row_run *row)
{
    int c;
    int i;

    for (c = 0; c <= UPPER_WAYS; c++) {
        for (i = entry()->cascade[c].list; STEM_lists_RATE[i] != 0; i++) {
            if (i == row->list) {
                return c;
            }
        }
    }
    return -1;
}

/* Two rows change places, or what both of them have. */
static void swapped(const row_run *a, const row_run *b)
{
    TYPE was[16];
    const size_t both = sizeof was[0] * (size_t)(a->words < b->words ? a->words : b->words);
    TYPE *const first = &STEM_sections_RATE[a->at];
    TYPE *const second = &STEM_sections_RATE[b->at];
    const int c = cascade_of(a);
    const int same = c >= 0 && cascade_of(b) == c && a->form == b->form;

    if (memcmp(first, second, both) == 0) {
        return;
    }
    memcpy(was, first, both);
    memcpy(first, second, both);
    memcpy(second, was, both);
    say(same ? "order" : "swap", a->at, b->at);
    memcpy(second, first, both);
    memcpy(first, was, both);
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
    find_rows();
    for (k = 0; k < row_count; k++) {
        for (j = 0; j < rows[k].words; j++) {
            number("word", &STEM_sections_RATE[rows[k].at + j], rows[k].at, j);
        }
        for (j = k + 1; j < row_count; j++) {
            swapped(&rows[k], &rows[j]);
        }
    }
    for (k = 0; k <= UPPER_WAYS; k++) {
        number("gain", &entry()->cascade[k].gain, k, 0);
#ifdef UPPER_DELAY_WORDS
        if (k > 0 && entry()->cascade[k].delay > 0) { /* the longest stands in front */
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
