/* A disk that can be watched, filled and locked, for tests of the site log.
 *
 * Loaded before the C library. Writes every change below DISK_ROOT to DISK_TRACE in the order the kernel saw it,
 * so that a test can lay out what a power cut at any moment may leave. DISK_ROOM bytes may be written before the
 * disk is full; DISK_LOCKED makes it read-only. The store's shared index (-shm) is rebuilt on opening and left out.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

static pthread_mutex_t one = PTHREAD_MUTEX_INITIALIZER;
static const char *root;
static long room = -1;
static int trace = -1, locked;

__attribute__((constructor)) static void begin(void) {
    root = getenv("DISK_ROOT");
    const char *to = getenv("DISK_TRACE"), *bytes = getenv("DISK_ROOM");
    if (to) trace = syscall(SYS_openat, AT_FDCWD, to, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    if (bytes) room = atol(bytes);
    locked = getenv("DISK_LOCKED") != NULL;
}

static int ours(const char *path) {
    size_t n = strlen(path);
    if (!root || strncmp(path, root, strlen(root)) != 0) return 0;
    return !(n > 4 && strcmp(path + n - 4, "-shm") == 0);
}

static int path_of(int fd, char *out, size_t room_for) {
    char link[64];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, out, room_for - 1);
    if (n < 0) return 0;
    out[n] = 0;
    return ours(out);
}

static void put(const void *bytes, size_t n) {
    const char *at = bytes;
    while (n > 0) {
        ssize_t done = syscall(SYS_write, trace, at, n);
        if (done <= 0) abort();
        at += done;
        n -= (size_t)done;
    }
}

/* One line: what, path, number, other path; then that many bytes when it is a write or an answer. */
static void note(char what, const char *path, long number, const char *other, const void *bytes, size_t n) {
    if (trace < 0) return;
    char line[8400];
    int length = snprintf(line, sizeof line, "%c\t%s\t%ld\t%s\t%zu\n", what, path, number, other, n);
    put(line, (size_t)length);
    if (n) put(bytes, n);
}

static int opened(int dir, const char *path, int flags, mode_t mode) {
    int ask = (flags & O_ACCMODE) != O_RDONLY || (flags & O_CREAT);
    if (ask && locked && ours(path)) { errno = EROFS; return -1; }
    pthread_mutex_lock(&one);
    struct stat before;
    int fresh = (flags & O_CREAT) && ours(path) && stat(path, &before) != 0;
    int fd = syscall(SYS_openat, dir, path, flags | O_LARGEFILE, mode);
    if (fd >= 0 && fresh) note('C', path, 0, "", NULL, 0);
    if (fd >= 0 && (flags & O_TRUNC) && ours(path)) note('T', path, 0, "", NULL, 0);
    pthread_mutex_unlock(&one);
    return fd;
}

#define MODE mode_t mode = 0; if (flags & O_CREAT) { va_list a; va_start(a, flags); mode = va_arg(a, mode_t); va_end(a); }
int open(const char *path, int flags, ...) { MODE return opened(AT_FDCWD, path, flags, mode); }
int open64(const char *path, int flags, ...) { MODE return opened(AT_FDCWD, path, flags, mode); }
int openat(int dir, const char *path, int flags, ...) { MODE return opened(dir, path, flags, mode); }
int openat64(int dir, const char *path, int flags, ...) { MODE return opened(dir, path, flags, mode); }

static ssize_t wrote(int fd, const void *bytes, size_t n, off_t at, int placed) {
    char path[4096];
    if (fd == 1) {
        pthread_mutex_lock(&one);
        ssize_t done = syscall(SYS_write, fd, bytes, n);
        if (done > 0) note('A', "", 0, "", bytes, (size_t)done);
        pthread_mutex_unlock(&one);
        return done;
    }
    if (!path_of(fd, path, sizeof path))
        return placed ? syscall(SYS_pwrite64, fd, bytes, n, at) : syscall(SYS_write, fd, bytes, n);
    pthread_mutex_lock(&one);
    ssize_t done = -1;
    if (room >= 0 && (long)n > room) {
        errno = ENOSPC;
    } else {
        if (!placed) at = lseek(fd, 0, SEEK_CUR);
        done = placed ? syscall(SYS_pwrite64, fd, bytes, n, at) : syscall(SYS_write, fd, bytes, n);
        if (done > 0) note('W', path, (long)at, "", bytes, (size_t)done);
        if (done > 0 && room >= 0) room -= done;
    }
    pthread_mutex_unlock(&one);
    return done;
}
ssize_t write(int fd, const void *bytes, size_t n) { return wrote(fd, bytes, n, 0, 0); }
ssize_t pwrite(int fd, const void *bytes, size_t n, off_t at) { return wrote(fd, bytes, n, at, 1); }
ssize_t pwrite64(int fd, const void *bytes, size_t n, off64_t at) { return wrote(fd, bytes, n, at, 1); }

static int cut(int fd, off_t length) {
    char path[4096];
    int mine = path_of(fd, path, sizeof path);
    pthread_mutex_lock(&one);
    int result = (int)syscall(SYS_ftruncate, fd, length);
    if (result == 0 && mine) note('T', path, (long)length, "", NULL, 0);
    pthread_mutex_unlock(&one);
    return result;
}
int ftruncate(int fd, off_t length) { return cut(fd, length); }
int ftruncate64(int fd, off64_t length) { return cut(fd, length); }

static int synced(int fd) {
    char path[4096];
    int mine = path_of(fd, path, sizeof path);
    pthread_mutex_lock(&one);
    /* The trace decides what is on the disk; the disk of the test machine need not work for it. */
    int result = trace >= 0 ? 0 : (int)syscall(SYS_fsync, fd);
    if (result == 0 && mine) note('S', path, 0, "", NULL, 0);
    pthread_mutex_unlock(&one);
    return result;
}
int fsync(int fd) { return synced(fd); }
int fdatasync(int fd) { return synced(fd); }

int rename(const char *from, const char *to) {
    if (locked && ours(to)) { errno = EROFS; return -1; }
    pthread_mutex_lock(&one);
    int result = (int)syscall(SYS_renameat, AT_FDCWD, from, AT_FDCWD, to);
    if (result == 0 && ours(to)) note('R', from, 0, to, NULL, 0);
    pthread_mutex_unlock(&one);
    return result;
}
int unlink(const char *path) {
    if (locked && ours(path)) { errno = EROFS; return -1; }
    pthread_mutex_lock(&one);
    int result = (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
    if (result == 0 && ours(path)) note('U', path, 0, "", NULL, 0);
    pthread_mutex_unlock(&one);
    return result;
}
int mkdir(const char *path, mode_t mode) {
    if (locked && ours(path)) { errno = EROFS; return -1; }
    pthread_mutex_lock(&one);
    int result = (int)syscall(SYS_mkdirat, AT_FDCWD, path, mode);
    if (result == 0 && ours(path)) note('D', path, 0, "", NULL, 0);
    pthread_mutex_unlock(&one);
    return result;
}
