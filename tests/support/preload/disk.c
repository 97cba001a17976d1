/* Preloaded by tests on Linux: a disk that fails, is slow, or hangs, for files below one folder.
 *
 * DISK_BELOW     what it is about: paths that begin with this text, and descriptors of such files
 * DISK_CALLS     which calls, with commas: open mkdir write fsync rename link unlink truncate; none: all of them
 * DISK_ERRNO     such a call fails with this number
 * DISK_DELAY_MS  such a call first takes this long
 * DISK_HANGS     such a call waits for as long as a file of this name exists
 * DISK_KILLS     instead of the call of this number, from 1, the process is killed
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))
#define MOST_OF_A_PATH 4096

static int calls_so_far;

static void pause_ms(long ms) {
    struct timespec ts = {ms / 1000, (ms % 1000) * 1000000};
    nanosleep(&ts, 0);
}

static int is_meant(const char *call, const char *path) {
    const char *below = getenv("DISK_BELOW"), *calls = getenv("DISK_CALLS");
    if (!below || !path || strncmp(path, below, strlen(below))) return 0;
    if (!calls) return 1;
    for (const char *found = calls; (found = strstr(found, call)); found++) {
        char after = found[strlen(call)];
        if ((found == calls || found[-1] == ',') && (!after || after == ',')) return 1;
    }
    return 0;
}

/* Returns -1, with errno, where the call is to fail; 0 where it goes on. */
static int suffer(const char *call, const char *path) {
    const char *hangs = getenv("DISK_HANGS"), *delay_ms = getenv("DISK_DELAY_MS"), *number = getenv("DISK_ERRNO");
    if (!is_meant(call, path)) return 0;
    const char *kills = getenv("DISK_KILLS");
    if (kills && __atomic_add_fetch(&calls_so_far, 1, __ATOMIC_SEQ_CST) == atoi(kills)) raise(SIGKILL);
    if (delay_ms) pause_ms(atol(delay_ms));
    while (hangs && !REAL(access)(hangs, F_OK)) pause_ms(10);
    if (!number) return 0;
    errno = atoi(number);
    return -1;
}

static int suffer_of(const char *call, int fd) {
    char link[64], path[MOST_OF_A_PATH];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0) return 0;
    path[length] = 0;
    return suffer(call, path);
}

static int opened(const char *path, int flags, mode_t mode, int (*real)(const char *, int, ...)) {
    if ((flags & (O_WRONLY | O_RDWR | O_CREAT)) && suffer("open", path)) return -1;
    return real(path, flags, mode);
}

#define OPEN(name)                                          \
    int name(const char *path, int flags, ...) {            \
        va_list rest;                                       \
        va_start(rest, flags);                              \
        mode_t mode = va_arg(rest, mode_t);                 \
        va_end(rest);                                       \
        return opened(path, flags, mode, REAL(name));       \
    }
OPEN(open)
OPEN(open64)

int mkdir(const char *path, mode_t mode) { return suffer("mkdir", path) ? -1 : REAL(mkdir)(path, mode); }
ssize_t write(int fd, const void *data, size_t count) { return suffer_of("write", fd) ? -1 : REAL(write)(fd, data, count); }
int fsync(int fd) { return suffer_of("fsync", fd) ? -1 : REAL(fsync)(fd); }
int rename(const char *from, const char *to) { return suffer("rename", to) ? -1 : REAL(rename)(from, to); }
int link(const char *from, const char *to) { return suffer("link", to) ? -1 : REAL(link)(from, to); }
int unlink(const char *path) { return suffer("unlink", path) ? -1 : REAL(unlink)(path); }
int ftruncate(int fd, off_t length) { return suffer_of("truncate", fd) ? -1 : REAL(ftruncate)(fd, length); }
int ftruncate64(int fd, off64_t length) { return suffer_of("truncate", fd) ? -1 : REAL(ftruncate64)(fd, length); }
