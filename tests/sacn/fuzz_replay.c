/* Runs a fuzz target over every file of a folder, without libFuzzer: what fuzzing has found stays found. */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *octets, size_t length);

static int replay(const char *path)
{
    FILE *file = fopen(path, "rb");
    if (!file)
        return -1;
    fseek(file, 0, SEEK_END);
    long length = ftell(file);
    rewind(file);
    uint8_t *octets = malloc(length > 0 ? (size_t)length : 1);     /* exactly as long, so that AddressSanitizer sees its end */
    int done = octets && length >= 0 && fread(octets, 1, (size_t)length, file) == (size_t)length;
    fclose(file);
    if (done)
        LLVMFuzzerTestOneInput(octets, (size_t)length);
    free(octets);
    return done ? 0 : -1;
}

int main(int argc, char **argv)
{
    char path[4096];
    int files = 0;
    DIR *folder = argc == 2 ? opendir(argv[1]) : NULL;
    if (!folder) {
        fprintf(stderr, "usage: %s FOLDER\n", argv[0]);
        return 2;
    }
    for (struct dirent *entry; (entry = readdir(folder));) {
        if (entry->d_name[0] == '.')
            continue;
        snprintf(path, sizeof path, "%s/%s", argv[1], entry->d_name);
        if (replay(path) != 0) {
            fprintf(stderr, "%s: cannot be read\n", path);
            closedir(folder);
            return 1;
        }
        files++;
    }
    closedir(folder);
    printf("%d files\n", files);
    return files > 0 ? 0 : 1;
}
