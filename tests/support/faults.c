/* Counts the changes that a process makes to files; ends it at one of them, or lets that one and
 * all that follow fail for want of space, or asks before each what is to become of it.
 *
 * Loaded before the C library (LD_PRELOAD), so that it sees what Python, SQLite and every other
 * library ask of the system. Nothing happens until faults_begin is called. Of writes to one file
 * in a row the first and every sixteenth count.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

enum { END = 0, FULL = 1, ASK = 2 };

typedef int asked(long change, int needs_space);

static long made, at;
static int on, mode, with, last = -1, row;
static asked *ask;
static pthread_mutex_t one = PTHREAD_MUTEX_INITIALIZER;

/* Of ASK: whom; the answer is 0 to go on, a signal, or -1: the disk is full from now on. */
void faults_begin(long change, int how, int signal, asked *whom) {
    made = 0; at = change; mode = how; with = signal; ask = whom; on = 1;
}
long faults_made(void) { return made; }
void faults_end(void) { on = 0; }

/* Ask what is to become of this change; there is one answer but to go on. */
static void answered(int needs_space) {
    int answer;
    on = 0;
    answer = ask(made, needs_space);
    on = 1;
    if (answer) {
        mode = answer < 0 ? FULL : END;
        at = made;
        with = answer;
    }
}

/* Say whether this change fails for want of space: the one asked for, and all that follow. */
static int counted(int needs_space, int handle) {
    int fails = 0, dies;
    if (!on) return 0;
    pthread_mutex_lock(&one);
    if (handle >= 0 && handle == last && ++row % 16) {
        fails = mode == FULL && needs_space && made >= at;
        pthread_mutex_unlock(&one);
        return fails;
    }
    if (handle != last) row = 0;
    last = handle;
    made += mode != FULL || needs_space;
    if (mode == ASK) answered(needs_space);
    dies = mode == END && made == at;
    fails = mode == FULL && needs_space && made >= at;
    pthread_mutex_unlock(&one);
    if (dies) kill(getpid(), with);
    if (fails) errno = ENOSPC;
    return fails;
}

static int regular(int handle) {
    struct stat found;
    int kept = errno, is = fstat(handle, &found) == 0 && S_ISREG(found.st_mode);
    errno = kept;
    return is;
}

static int in_cache(const char *path) { return path && strstr(path, "__pycache__") != NULL; }

#define REAL(name) \
    static __typeof__(name) *real; \
    if (!real) real = (__typeof__(name) *)dlsym(RTLD_NEXT, #name)

#define WRITES(result, name, parameters, arguments) \
    result name parameters { \
        REAL(name); \
        if (on && regular(handle) && counted(1, handle)) { errno = ENOSPC; return -1; } \
        return real arguments; \
    }
WRITES(ssize_t, write, (int handle, const void *data, size_t size), (handle, data, size))
WRITES(ssize_t, pwrite, (int handle, const void *data, size_t size, off_t place),
       (handle, data, size, place))
WRITES(ssize_t, pwrite64, (int handle, const void *data, size_t size, off64_t place),
       (handle, data, size, place))
WRITES(ssize_t, writev, (int handle, const struct iovec *data, int count), (handle, data, count))
WRITES(int, ftruncate, (int handle, off_t size), (handle, size))
WRITES(int, ftruncate64, (int handle, off64_t size), (handle, size))
WRITES(int, posix_fallocate, (int handle, off_t place, off_t size), (handle, place, size))

/* What only names and orders what is written already. */
#define ORDERS(name, parameters, arguments, space) \
    int name parameters { \
        REAL(name); \
        if (on && counted(space, -1)) { errno = ENOSPC; return -1; } \
        return real arguments; \
    }
ORDERS(fsync, (int handle), (handle), 1)
ORDERS(fdatasync, (int handle), (handle), 1)
ORDERS(rename, (const char *from, const char *to), (from, to), 0)
ORDERS(renameat, (int a, const char *from, int b, const char *to), (a, from, b, to), 0)
ORDERS(renameat2, (int a, const char *from, int b, const char *to, unsigned how),
       (a, from, b, to, how), 0)
ORDERS(unlink, (const char *path), (path), 0)
ORDERS(unlinkat, (int a, const char *path, int how), (a, path, how), 0)
ORDERS(rmdir, (const char *path), (path), 0)
ORDERS(link, (const char *from, const char *to), (from, to), 1)
ORDERS(linkat, (int a, const char *from, int b, const char *to, int how), (a, from, b, to, how), 1)
ORDERS(symlink, (const char *from, const char *to), (from, to), 1)
ORDERS(mkdir, (const char *path, mode_t how), (path, how), 1)
ORDERS(mkdirat, (int a, const char *path, mode_t how), (a, path, how), 1)
ORDERS(fchmod, (int handle, mode_t how), (handle, how), 0)

static int makes(int how) {
    return (how & O_CREAT) || (how & O_TRUNC) || (how & O_TMPFILE) == O_TMPFILE;
}
#define OPENS(name, parameters, arguments) \
    int name parameters { \
        mode_t permissions = 0; \
        va_list more; \
        va_start(more, how); \
        if (makes(how)) permissions = va_arg(more, mode_t); \
        va_end(more); \
        REAL(name); \
        if (on && makes(how) && !in_cache(path) && counted(1, -1)) { errno = ENOSPC; return -1; } \
        return real arguments; \
    }
OPENS(open, (const char *path, int how, ...), (path, how, permissions))
OPENS(open64, (const char *path, int how, ...), (path, how, permissions))
OPENS(openat, (int folder, const char *path, int how, ...), (folder, path, how, permissions))
OPENS(openat64, (int folder, const char *path, int how, ...), (folder, path, how, permissions))
