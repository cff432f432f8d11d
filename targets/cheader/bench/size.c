/* Memory of the state. */
#include HEADER
#include "work.h"
#include <stdio.h>

#if WITH_DELAYS
#define DELAYS ((int)(sizeof(((THE(_channel_state) *)0)->delay) + sizeof(((THE(_channel_state) *)0)->delay_at)))
#else
#define DELAYS 0
#endif

int main(void)
{
    const int channel = (int)(sizeof(THE(_channel_state)) + sizeof(((THE(_state) *)0)->asked[0])) - DELAYS;

    printf("  state: %d bytes, delay lines %d bytes a channel\n", (int)sizeof(THE(_state)), DELAYS);
    verdict("RAM, bytes a section and channel", (double)channel / OF(_POSITIONS), 10, 0);
    return 0;
}
