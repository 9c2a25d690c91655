/* What a disk holds after the power went: for each file of the database a copy of it as it was when the
 * system last said that it is on the disk. Read through the descriptor in hand: to open and close the file
 * once more would give up the locks that this process holds on it. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static void keep(int file)
{
    char link[64], path[4000], copy[4100], draft[4100];
    static char block[1 << 16];
    ssize_t length, got;
    off_t at = 0;

    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    length = readlink(link, path, sizeof path - 1);
    if (length <= 0)
        return;
    path[length] = 0;
    if (!strstr(path, "/keyctl.sqlite3"))
        return;
    snprintf(copy, sizeof copy, "%s.durable", path);
    snprintf(draft, sizeof draft, "%s.draft", path);
    int out = open(draft, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (out < 0)
        return;
    while ((got = pread(file, block, sizeof block, at)) > 0) {
        if (write(out, block, got) != got)
            break;
        at += got;
    }
    close(out);
    rename(draft, copy);
}

int fsync(int file)
{
    int (*real)(int) = dlsym(RTLD_NEXT, "fsync");
    int told = real(file);
    if (told == 0)
        keep(file);
    return told;
}

int fdatasync(int file)
{
    int (*real)(int) = dlsym(RTLD_NEXT, "fdatasync");
    int told = real(file);
    if (told == 0)
        keep(file);
    return told;
}
