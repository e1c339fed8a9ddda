/* A disk that remembers what is written to it, and fails when it is told to.

Preloaded into a process, it stands before the calls of the C library that reach files under the
folder DISK_UNDER; all others go through untouched. The index of SQLite's log (-shm) is left out: it
is memory, and nothing of it outlives the power. `disk.py` beside this file is the other end. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

#define SECTOR 512
#define NEXT(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

static int record = -1;                        /* where it is remembered */
static char fail_kind;                         /* r, w, s or t: the calls that fail */
static int fail_errno;
static long fail_at, fail_times; /* from which of them on, and how often */
static long seen, failed;        /* how many there were, and how many failed */

/* what Python says */

void disk_record(const char *path) { record = open(path, O_WRONLY | O_CREAT | O_APPEND, 0600); }

void disk_fail(char kind, int number, long at, long times) {
    fail_kind = kind, fail_errno = number, fail_at = at, fail_times = times, seen = failed = 0;
}

long disk_seen(void) { return seen; }

long disk_failed(void) { return failed; }

/* what stands before the calls */

static int watched(const char *path) {
    const char *under = getenv("DISK_UNDER");
    size_t length = strlen(path), folder = under ? strlen(under) : 0;
    if (!folder || strncmp(path, under, folder)) return 0;
    if (path[folder] != '/') return !path[folder]; /* the folder itself, whose syncs keep names */
    return strcmp(path + length - 4, "-shm") != 0;
}

static int named(int fd, char *path, size_t size) {
    char link[64];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, size - 1);
    if (length < 0) return 0;
    path[length] = 0;
    return watched(path);
}

static int fails(char kind) {
    if (kind != fail_kind || ++seen < fail_at || failed >= fail_times) return 0;
    failed++;
    return 1;
}

/* One record: kind, lengths of path and data, offset, path, data. */
static void remember(char kind, const char *path, uint64_t at, const void *data, uint64_t size) {
    if (record < 0) return;
    uint64_t head[4] = {(uint64_t)kind, strlen(path), at, data ? size : 0};
    ssize_t (*plain)(int, const void *, size_t) = NEXT(write);
    if (plain(record, head, sizeof head) < 0 || plain(record, path, head[1]) < 0 ||
        (data && plain(record, data, size) < 0))
        abort();
}

void disk_mark(uint64_t number) { remember('A', "", number, NULL, 0); }

static ssize_t written(int fd, const void *data, size_t size, off64_t at, int moves) {
    char path[4096];
    int ours = named(fd, path, sizeof path);
    if (ours && fails('w')) { /* half of it got there; less than a sector does whole or not */
        if (size > SECTOR && NEXT(pwrite64)(fd, data, size / 2, at) < 0) return -1;
        errno = fail_errno;
        return -1;
    }
    ssize_t done = moves ? NEXT(write)(fd, data, size) : NEXT(pwrite64)(fd, data, size, at);
    if (ours && done > 0) remember('w', path, (uint64_t)at, data, (uint64_t)done);
    return done;
}

ssize_t write(int fd, const void *data, size_t size) {
    off64_t at = lseek64(fd, 0, SEEK_CUR);
    if (at < 0) return NEXT(write)(fd, data, size); /* a pipe, a socket */
    return written(fd, data, size, at, 1);
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t at) {
    return written(fd, data, size, at, 0);
}

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at) {
    return written(fd, data, size, at, 0);
}

#define FAIL_OR(kind, call)                                                                        \
    char path[4096];                                                                               \
    int ours = named(fd, path, sizeof path);                                                       \
    if (ours && fails(kind)) {                                                                     \
        errno = fail_errno;                                                                        \
        return -1;                                                                                 \
    }                                                                                              \
    __typeof__(call) done = call;                                                                  \
    (void)ours;

ssize_t read(int fd, void *data, size_t size) {
    FAIL_OR('r', NEXT(read)(fd, data, size))
    return done;
}

ssize_t pread(int fd, void *data, size_t size, off_t at) {
    FAIL_OR('r', NEXT(pread)(fd, data, size, at))
    return done;
}

ssize_t pread64(int fd, void *data, size_t size, off64_t at) {
    FAIL_OR('r', NEXT(pread64)(fd, data, size, at))
    return done;
}

int fsync(int fd) {
    FAIL_OR('s', NEXT(fsync)(fd))
    if (ours) remember('s', path, 0, NULL, 0);
    return done;
}

int fdatasync(int fd) {
    FAIL_OR('s', NEXT(fdatasync)(fd))
    if (ours) remember('s', path, 0, NULL, 0);
    return done;
}

int ftruncate(int fd, off_t size) {
    FAIL_OR('t', NEXT(ftruncate)(fd, size))
    if (ours) remember('t', path, (uint64_t)size, NULL, 0);
    return done;
}

int ftruncate64(int fd, off64_t size) {
    FAIL_OR('t', NEXT(ftruncate64)(fd, size))
    if (ours) remember('t', path, (uint64_t)size, NULL, 0);
    return done;
}

int unlink(const char *path) {
    int done = NEXT(unlink)(path);
    if (!done && watched(path)) remember('u', path, 0, NULL, 0);
    return done;
}

int rename(const char *from, const char *to) {
    int done = NEXT(rename)(from, to);
    if (!done && watched(from)) remember('m', from, 0, to, strlen(to));
    return done;
}
