/* Preloaded by tests: a disk that takes its time, or fails, to sync; each sync is noted. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

int fsync(int fd) {
    const char *delay_ms = getenv("SYNC_DELAY_MS");
    const char *fails = getenv("SYNC_FAILS");
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, "fsync");
    if (delay_ms) {
        long ms = atol(delay_ms);
        struct timespec ts = {ms / 1000, (ms % 1000) * 1000000};
        nanosleep(&ts, 0);
    }
    if (fails) { errno = EIO; return -1; }
    return real(fd);
}
