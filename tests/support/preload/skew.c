/* Preloaded by tests on Linux: clocks of a process that are set from outside while it runs.
 *
 * The file that SKEW_FILE names holds two int64, in nanoseconds, read anew at each call:
 *   [0] a step of the wall clock: added to CLOCK_REALTIME
 *   [1] time that the machine was asleep: added to CLOCK_BOOTTIME and CLOCK_REALTIME, which count on in sleep, while
 *       CLOCK_MONOTONIC stands (clock_gettime(2), from memory)
 * Nothing else is touched, so that sleeping works as ever.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <time.h>
#include <unistd.h>

#define NS_PER_S 1000000000LL

static int (*real_gettime)(clockid_t, struct timespec *);
static volatile const int64_t *skew;

__attribute__((constructor)) static void open_skew(void) {
    const char *path = getenv("SKEW_FILE");
    real_gettime = (int (*)(clockid_t, struct timespec *))dlsym(RTLD_NEXT, "clock_gettime");
    int fd = path ? open(path, O_RDONLY | O_CLOEXEC) : -1;
    if (fd < 0) return;
    void *map = mmap(NULL, 2 * sizeof(int64_t), PROT_READ, MAP_SHARED, fd, 0);
    close(fd);
    if (map != MAP_FAILED) skew = map;
}

static int64_t offset_ns(clockid_t clock) {
    if (!skew) return 0;
    switch (clock) {
    case CLOCK_REALTIME:
    case CLOCK_REALTIME_COARSE: return skew[0] + skew[1];
    case CLOCK_BOOTTIME: return skew[1];
    default: return 0;
    }
}

int clock_gettime(clockid_t clock, struct timespec *ts) {
    if (!real_gettime) open_skew();                    /* called by another library's constructor, before ours */
    int failed = real_gettime(clock, ts);
    if (failed) return failed;
    int64_t ns = ts->tv_nsec + offset_ns(clock) % NS_PER_S;
    ts->tv_sec += offset_ns(clock) / NS_PER_S;
    if (ns < 0) { ns += NS_PER_S; ts->tv_sec -= 1; }
    if (ns >= NS_PER_S) { ns -= NS_PER_S; ts->tv_sec += 1; }
    ts->tv_nsec = ns;
    return 0;
}
