/* Memory of the state. */
#include HEADER
#include "work.h"
#include <stdio.h>

#if WITH_DELAYS
#define DELAYS ((int)sizeof(float) * OF(_DELAY_WORDS) + 4 * (1 + WAYS))
#else
#define DELAYS 0
#endif

int main(void)
{
    const int channel = (int)sizeof(THE(_channel_state)) - DELAYS;

    printf("  state: %d bytes, delay lines %d bytes a channel\n", (int)sizeof(THE(_state)), DELAYS);
    verdict("RAM, bytes a section and channel", (double)channel / OF(_POSITIONS), 10, 0);
    return 0;
}
