/* Makes the calls that write to regular files fail on demand, and keeps a list of what was written and not yet synced:
   loaded before the C library, told by fault_arm() and watch_start(). */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static long after = -1, count = 0, met = 0;
static int number = 0;

/* From the call number `calls` from now on (0 is the next), let `times` calls fail with `error`; -1 for none. */
void fault_arm(long calls, long times, int error) { met = 0; count = times; number = error; after = calls; }
long fault_met(void) { return met; }

static int fails(void) {
    if (after < 0) return 0;
    if (after > 0) { after--; return 0; }
    if (count == 0) return 0;
    count--;
    met++;
    errno = number;
    return 1;
}

static int regular(int file) {
    struct stat found;
    return fstat(file, &found) == 0 && (S_ISREG(found.st_mode) || S_ISDIR(found.st_mode));
}

/* Paths written to, or renamed into, and whether that was synced since. One thread only. */
#define MOST 4096
static char paths[MOST][PATH_MAX];
static int dirty[MOST], known = 0, watching = 0;
static long syncs = 0;

void watch_start(void) { watching = 1; known = 0; syncs = 0; }
long watch_syncs(void) { return syncs; }
/* The path of the number `at` among those not synced; "" at the end. */
const char *watch_dirty(int at) {
    for (int i = 0; i < known; i++) if (dirty[i] && at-- == 0) return paths[i];
    return "";
}

static void set(const char *path, int how) {
    for (int i = 0; i < known; i++) if (!strcmp(paths[i], path)) { dirty[i] = how; return; }
    if (how && known < MOST) { snprintf(paths[known], PATH_MAX, "%s", path); dirty[known++] = how; }
}

static int is_dirty(const char *path) {
    for (int i = 0; i < known; i++) if (!strcmp(paths[i], path)) return dirty[i];
    return 0;
}

static void note(int file, int how) {
    char link[64], path[PATH_MAX];
    if (!watching || !regular(file)) return;
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t size = readlink(link, path, sizeof path - 1);
    if (size < 0) return;
    path[size] = 0;
    if (!how) syncs++;
    set(path, how);
}

static void note_rename(const char *from, const char *to) {
    char copy[PATH_MAX];
    if (!watching) return;
    set(to, is_dirty(from));
    set(from, 0);
    snprintf(copy, sizeof copy, "%s", to);
    set(dirname(copy), 1);
}

#define NEXT(name) static __typeof__(&name) next; if (!next) next = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

ssize_t write(int file, const void *data, size_t size) { NEXT(write); note(file, 1); return regular(file) && fails() ? -1 : next(file, data, size); }
ssize_t pwrite(int file, const void *data, size_t size, off_t at) { NEXT(pwrite); note(file, 1); return fails() ? -1 : next(file, data, size, at); }
ssize_t pwrite64(int file, const void *data, size_t size, off64_t at) { NEXT(pwrite64); note(file, 1); return fails() ? -1 : next(file, data, size, at); }
int fsync(int file) { NEXT(fsync); note(file, 0); return fails() ? -1 : next(file); }
int fdatasync(int file) { NEXT(fdatasync); note(file, 0); return fails() ? -1 : next(file); }
int rename(const char *from, const char *to) { NEXT(rename); if (fails()) return -1; note_rename(from, to); return next(from, to); }
int ftruncate(int file, off_t size) { NEXT(ftruncate); note(file, 1); return fails() ? -1 : next(file, size); }
int ftruncate64(int file, off64_t size) { NEXT(ftruncate64); note(file, 1); return fails() ? -1 : next(file, size); }
