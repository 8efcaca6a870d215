/* Makes the calls that write to regular files fail on demand: loaded before the C library, told by fault_arm(). */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
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

#define NEXT(name) static __typeof__(&name) next; if (!next) next = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

ssize_t write(int file, const void *data, size_t size) { NEXT(write); return regular(file) && fails() ? -1 : next(file, data, size); }
ssize_t pwrite(int file, const void *data, size_t size, off_t at) { NEXT(pwrite); return fails() ? -1 : next(file, data, size, at); }
ssize_t pwrite64(int file, const void *data, size_t size, off64_t at) { NEXT(pwrite64); return fails() ? -1 : next(file, data, size, at); }
int fsync(int file) { NEXT(fsync); return fails() ? -1 : next(file); }
int fdatasync(int file) { NEXT(fdatasync); return fails() ? -1 : next(file); }
int rename(const char *from, const char *to) { NEXT(rename); return fails() ? -1 : next(from, to); }
int ftruncate(int file, off_t size) { NEXT(ftruncate); return fails() ? -1 : next(file, size); }
int ftruncate64(int file, off64_t size) { NEXT(ftruncate64); return fails() ? -1 : next(file, size); }
