/* Runs a fuzz target over files instead of a fuzzer: replay FILE-OR-FOLDER... */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int replay_file(const char *path)
{
    FILE *file = fopen(path, "rb");
    if (!file)
        return -1;
    size_t room = 1 << 20;
    uint8_t *data = malloc(room);    /* a heap block of the exact size lets the sanitizer see a step beyond it */
    size_t size = data ? fread(data, 1, room, file) : 0;
    fclose(file);
    uint8_t *exact = malloc(size ? size : 1);
    if (!data || !exact)
        return -1;
    memcpy(exact, data, size);
    free(data);
    LLVMFuzzerTestOneInput(exact, size);
    free(exact);
    return 1;
}

/* @return files replayed, or -1 */
static int replay(const char *path)
{
    DIR *folder = opendir(path);
    int count = 0;
    if (!folder)
        return replay_file(path);
    for (struct dirent *entry; (entry = readdir(folder)) && count >= 0;) {
        char name[4096];
        if (entry->d_name[0] == '.')
            continue;
        snprintf(name, sizeof name, "%s/%s", path, entry->d_name);
        count = replay_file(name) == 1 ? count + 1 : -1;
    }
    closedir(folder);
    return count;
}

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        int count = replay(argv[i]);
        if (count <= 0) {
            fprintf(stderr, "%s: nothing to replay\n", argv[i]);
            return 1;
        }
        printf("%s: %d replayed\n", argv[i], count);
    }
    return argc > 1 ? 0 : 2;
}
