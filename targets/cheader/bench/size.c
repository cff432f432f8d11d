/* Memory of the state, all of it but the delay lines counted. */
#include HEADER
#include "work.h"
#include <stdio.h>

#if WITH_DELAYS
#define DELAYS ((int)(sizeof(((THE(_channel_state) *)0)->delay) + sizeof(((THE(_channel_state) *)0)->delay_at)))
#else
#define DELAYS 0
#endif
#ifndef TWICE /* how many positions run twice during a change */
#define TWICE 0
#endif

int main(void)
{
    const int channel = (int)(sizeof(THE(_channel_state)) + sizeof(((THE(_state) *)0)->asked[0])) - DELAYS;

    printf("  state: %d bytes, delay lines %d bytes a channel\n", (int)sizeof(THE(_state)), DELAYS);
#if TWICE
    /* A position that runs twice during a change is two sections then, each with states of its own. The limit is
     * for sections: by positions the states alone can be beyond it. */
    verdict("RAM, bytes a section with its own states", (double)channel / (OF(_POSITIONS) + TWICE), 10, 0);
    printf("  %-44s %7.2f   no limit: %d of %d run twice during a change, the states alone are %.2f\n", "RAM, bytes a position and channel",
        (double)channel / OF(_POSITIONS), TWICE, OF(_POSITIONS), (double)(OF(_POSITIONS) + TWICE) * sizeof(THE(_memory)) / OF(_POSITIONS));
#else
    verdict("RAM, bytes a section and channel", (double)channel / OF(_POSITIONS), 10, 0); /* no position runs twice */
#endif
    return 0;
}
