/* What a whole `rigcall run` costs, engine and script host together: 60 s of 512 universes at 40 Hz, half of all slots in fades,
 * guard on, without a capture and with one to /dev/null; and the CPU time of a live run of the same to 127.0.0.1. The named
 * alternative, a plain loop of fades, is in bench_dry; a bare sendmmsg loop is in bench_send.
 * Usage: bench_run [FOLDER for the generated show; default /tmp]. Needs lua5.4. */
#include "process.h"

#define SEQUENCE RIGCALL_SOURCE_DIR "/tests/bench/half-fades.lua"

int main(int argc, char **argv)
{
    const char *folder = argc > 1 ? argv[1] : "/tmp";
    char show[4096];
    snprintf(show, sizeof show, "%s/bench-512-universes.show.lua", folder);
    char *const make[] = { "lua5.4", RIGCALL_SOURCE_DIR "/tests/bench/make_show.lua", "2048", "clean", NULL };
    if (measure(make, show, false).status != 0)
        die("the generator failed");
    char *const dry[] = { RIGCALL_PROGRAM, "run", show, SEQUENCE, NULL };
    char *const captured[] = { RIGCALL_PROGRAM, "run", show, SEQUENCE, "--pcap", "/dev/null", NULL };
    char *const live[] = { RIGCALL_PROGRAM, "run", show, SEQUENCE, "--live", "--to", "127.0.0.1", "--port", "45568", "--set", "seconds=20", NULL };
    double dry_s = median_cpu(dry, "/dev/stderr", "60 s dry");
    double captured_s = median_cpu(captured, "/dev/stderr", "60 s dry, captured to /dev/null");
    struct cost sent = measure(live, "/dev/stderr", false);
    printf("dry 1/%.1f of the time (wanted 1/20), with a capture 1/%.1f (wanted 1/10)\n", 60 / dry_s, 60 / captured_s);
    printf("20 s live to 127.0.0.1: %.2f s CPU, %.0f ns a packet at 512 packets a frame; exit status %d\n", sent.cpu_s,
           sent.cpu_s * 1e9 / (20 * 40 * 512.0), WEXITSTATUS(sent.status));
    return 0;
}
