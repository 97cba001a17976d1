/* Preloaded by tests on Linux: clocks of a process that are set from outside while it runs.
 *
 * The file that SKEW_FILE names holds five int64, read anew at each call:
 *   [0] a step of the wall clock in nanoseconds: added to CLOCK_REALTIME
 *   [1] time that the machine was asleep: added to CLOCK_BOOTTIME and CLOCK_REALTIME, which count on in sleep, while
 *       CLOCK_MONOTONIC stands (clock_gettime(2), from memory)
 *   [2] by how much CLOCK_MONOTONIC, and with it CLOCK_BOOTTIME, is ahead: this is another machine
 *   [3] by how many parts in 10^9 they run faster, from
 *   [4] on, a time of the real CLOCK_MONOTONIC
 * Whoever sleeps or waits until a time of the shown CLOCK_MONOTONIC does so until that time is shown.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <pthread.h>
#include <semaphore.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <time.h>
#include <unistd.h>

#define NS_PER_S 1000000000LL
/* Between any time of a monotonic clock here and the wall clock's: about 1990. */
#define MONOTONIC_BELOW_S 650000000LL

static int (*real_gettime)(clockid_t, struct timespec *);
static volatile const int64_t *skew;

__attribute__((constructor)) static void open_skew(void) {
    const char *path = getenv("SKEW_FILE");
    real_gettime = (int (*)(clockid_t, struct timespec *))dlsym(RTLD_NEXT, "clock_gettime");
    int fd = path ? open(path, O_RDONLY | O_CLOEXEC) : -1;
    if (fd < 0) return;
    void *map = mmap(NULL, 5 * sizeof(int64_t), PROT_READ, MAP_SHARED, fd, 0);
    close(fd);
    if (map != MAP_FAILED) skew = map;
}

/* By how much the shown monotonic clock is ahead at a real time of it. */
static int64_t ahead_ns(int64_t real_ns) {
    if (!skew) return 0;
    return skew[2] + (int64_t)((__int128)(real_ns - skew[4]) * skew[3] / NS_PER_S);
}

static int64_t offset_ns(clockid_t clock, int64_t real_ns) {
    if (!skew) return 0;
    switch (clock) {
    case CLOCK_REALTIME:
    case CLOCK_REALTIME_COARSE: return skew[0] + skew[1];
    case CLOCK_BOOTTIME: return skew[1] + ahead_ns(real_ns);
    case CLOCK_MONOTONIC:
    case CLOCK_MONOTONIC_COARSE:
    case CLOCK_MONOTONIC_RAW: return ahead_ns(real_ns);
    default: return 0;
    }
}

static struct timespec moved(const struct timespec *ts, int64_t by_ns) {
    struct timespec to = {ts->tv_sec + by_ns / NS_PER_S, ts->tv_nsec + by_ns % NS_PER_S};
    if (to.tv_nsec < 0) { to.tv_nsec += NS_PER_S; to.tv_sec -= 1; }
    if (to.tv_nsec >= NS_PER_S) { to.tv_nsec -= NS_PER_S; to.tv_sec += 1; }
    return to;
}

int clock_gettime(clockid_t clock, struct timespec *ts) {
    if (!real_gettime) open_skew();                    /* called by another library's constructor, before ours */
    int failed = real_gettime(clock, ts);
    if (failed) return failed;
    *ts = moved(ts, offset_ns(clock, ts->tv_sec * NS_PER_S + ts->tv_nsec));
    return 0;
}

/* The real time at which the monotonic clock shows this one; the rate is so near 1 that two steps are exact. */
static struct timespec real_of(const struct timespec *shown) {
    int64_t shown_ns = shown->tv_sec * NS_PER_S + shown->tv_nsec;
    int64_t real_ns = shown_ns - ahead_ns(shown_ns - ahead_ns(shown_ns));
    real_ns = shown_ns - ahead_ns(real_ns);
    struct timespec zero = {0, 0};
    return moved(&zero, real_ns);
}

#define REAL(name) static __typeof__(name) *real; if (!real) real = (__typeof__(name) *)dlsym(RTLD_NEXT, #name)

int clock_nanosleep(clockid_t clock, int flags, const struct timespec *until, struct timespec *left) {
    REAL(clock_nanosleep);
    if (clock != CLOCK_MONOTONIC || !(flags & TIMER_ABSTIME)) return real(clock, flags, until, left);
    struct timespec to = real_of(until);
    return real(clock, flags, &to, left);
}

int sem_clockwait(sem_t *sem, clockid_t clock, const struct timespec *until) {
    REAL(sem_clockwait);
    if (clock != CLOCK_MONOTONIC) return real(sem, clock, until);
    struct timespec to = real_of(until);
    return real(sem, clock, &to);
}

/* Of a condition nobody tells by which clock it waits; no monotonic clock here shows a time of the wall clock. */
int pthread_cond_timedwait(pthread_cond_t *cond, pthread_mutex_t *mutex, const struct timespec *until) {
    REAL(pthread_cond_timedwait);
    if (until->tv_sec >= MONOTONIC_BELOW_S) return real(cond, mutex, until);
    struct timespec to = real_of(until);
    return real(cond, mutex, &to);
}

int pthread_cond_clockwait(pthread_cond_t *cond, pthread_mutex_t *mutex, clockid_t clock, const struct timespec *until) {
    REAL(pthread_cond_clockwait);
    if (clock != CLOCK_MONOTONIC) return real(cond, mutex, clock, until);
    struct timespec to = real_of(until);
    return real(cond, mutex, clock, &to);
}
