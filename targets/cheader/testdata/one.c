
static int run_STEM(void)
{
    static STEM_state filters;
    static double samples[UPPER_CHANNELS * UPPER_WAYS * LONGEST];
    static TYPE in[UPPER_CHANNELS][LONGEST];
    static TYPE out[UPPER_CHANNELS * UPPER_WAYS][LONGEST];
    static TYPE frames[UPPER_CHANNELS * LONGEST];
    static TYPE frames_out[UPPER_CHANNELS * UPPER_WAYS * LONGEST];
    static int32_t integers[UPPER_CHANNELS * LONGEST];
    static int32_t integers_out[UPPER_CHANNELS * UPPER_WAYS * LONGEST];
    int32_t command[5];

    write_word((int32_t)sizeof filters);
    while (read_words(command, 5)) {
        const int channel = (int)command[1];

        switch (command[0]) {
        case 0:
            write_word(STEM_init(&filters, (uint32_t)command[1]));
            break;
        case 1:
            STEM_reset(&filters);
            break;
        case 2:
            switch (command[2]) {
SETTINGS
            default:
                return 1;
            }
            break;
        case 3: { /* n, in place, how: 0 planar, 1 frames, 2 frames of int32 */
            const int n = (int)command[1];
            const int in_place = (int)command[2];
            const int total = n * UPPER_CHANNELS;
            const TYPE *from[UPPER_CHANNELS];
            TYPE *ways[UPPER_CHANNELS * UPPER_WAYS];
            int c;
            int w;
            int i;

            if (n > LONGEST || (n > 0 && fread(samples, sizeof samples[0], (size_t)total, stdin) != (size_t)total)) {
                return 1;
            }
            for (c = 0; c < UPPER_CHANNELS; c++) {
                from[c] = in[c];
                for (w = 0; w < UPPER_WAYS; w++) {
                    ways[c * UPPER_WAYS + w] = w == in_place ? in[c] : out[c * UPPER_WAYS + w];
                }
                for (i = 0; i < n; i++) {
                    in[c][i] = command[3] == 2 ? (TYPE)0 : (TYPE)(samples[c * n + i] * SCALE);
                    frames[i * UPPER_CHANNELS + c] = in[c][i];
                    integers[i * UPPER_CHANNELS + c] = command[3] == 2 ? (int32_t)samples[c * n + i] : 0;
                }
            }
            if (command[3] == 1) {
                write_word(STEM_run_frames(&filters, frames, frames_out, n));
            } else if (command[3] == 2) {
                write_word(STEM_run_frames_int32(&filters, integers, integers_out, n));
            } else {
                write_word(STEM_run(&filters, from, ways, n));
            }
            for (c = 0; c < UPPER_CHANNELS; c++) {
                for (w = 0; w < UPPER_WAYS && n > 0; w++) {
                    for (i = 0; i < n; i++) {
                        const int at = (i * UPPER_CHANNELS + c) * UPPER_WAYS + w;

                        samples[i] = command[3] == 0 ? (double)ways[c * UPPER_WAYS + w][i] / SCALE
                            : command[3] == 1 ? (double)frames_out[at] / SCALE : (double)integers_out[at];
                    }
                    (void)fwrite(samples, sizeof samples[0], (size_t)n, stdout);
                }
            }
            break;
        }
        case 4:
            write_word(STEM_mute(&filters, channel, (int)command[2]));
            write_word(STEM_muted(&filters, channel));
            break;
        case 5:
            write_word(STEM_reset_channel(&filters, channel));
            break;
        case 6:
            write_word(STEM_set_rate(&filters, (uint32_t)command[1]));
            break;
        case 7:
            write_word(STEM_garbage(&filters, channel));
            break;
        default:
            return 1;
        }
    }
    return 0;
}
