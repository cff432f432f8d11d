/* Runs a header's filters by commands on stdin and writes what they return to stdout. The
 * test puts the headers and one run_STEM per header in front of main. All numbers are of the
 * host. Commands are five int32: what, and four arguments. */
#include <stdio.h>
#include <string.h>

enum { LONGEST = 4096 };

static int read_words(int32_t *words, int count)
{
    return fread(words, sizeof words[0], (size_t)count, stdin) == (size_t)count;
}

static void write_word(int32_t word)
{
    (void)fwrite(&word, sizeof word, 1, stdout);
}
