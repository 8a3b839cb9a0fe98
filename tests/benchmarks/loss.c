/* M/M/c/c as plain as it gets: the next arrival against the earliest end of c stays. Prints events and the share lost. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

static uint64_t state[2];

static double uniform(void) /* xorshift128+ (Vigna 2014) */
{
    uint64_t a = state[0], b = state[1];
    state[0] = b;
    a ^= a << 23;
    state[1] = a ^ b ^ (a >> 17) ^ (b >> 26);
    return ((double)((state[1] + b) >> 11) + 0.5) / 9007199254740992.0;
}

int main(int argc, char **argv)
{
    int servers = atoi(argv[1]), busy = 0;
    double per_s = atof(argv[2]), stay_s = atof(argv[3]), end_s = atof(argv[4]);
    long runs = atol(argv[5]), events = 0, came = 0, lost = 0;
    double *ends = malloc(sizeof(double) * (size_t)servers);
    (void)argc;
    for (long run = 0; run < runs; run++) {
        state[0] = 0x9E3779B97F4A7C15u * (uint64_t)(run + 1);
        state[1] = 0xD1B54A32D192ED03u ^ state[0];
        double next = -log(uniform()) / per_s;
        busy = 0;
        while (1) {
            int first = -1;
            for (int i = 0; i < busy; i++)
                if (first < 0 || ends[i] < ends[first])
                    first = i;
            if (first >= 0 && ends[first] <= next) {
                if (ends[first] >= end_s)
                    break;
                ends[first] = ends[--busy];
            } else {
                if (next >= end_s)
                    break;
                came++;
                if (busy < servers)
                    ends[busy++] = next - stay_s * log(uniform());
                else
                    lost++;
                next -= log(uniform()) / per_s;
            }
            events++;
        }
    }
    printf("%ld %.6f\n", events, (double)lost / (double)came);
    free(ends);
    return 0;
}
