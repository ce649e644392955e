"""A live run through a cable that loses, doubles and delays packets: what the receiver counts is what the cable did, packet for
packet, and the last look arrives whole all the same.

Three network namespaces: the sender's (this one), the cable's, the receiver's. Expected: the counts of bad_cable.c, and the levels
that the sequence below ends on, by ANSI E1.31-2018 6.6.2 (repeats and keep-alives), 6.7.2 (sequence numbers).
usage: bad_cable.py RIGCALL BAD-CABLE SECONDS UNIVERSES PERCENT     (root only; 10 minutes of 256 universes at 1 %: target `soak`)
"""
import json
import os
import signal
import subprocess
import sys
import tempfile

from multicast import send_whole_checksums

INSIDE = "RIGCALL_CABLE_INSIDE"
HOLD_S, LOOK_S = 12, 2.6              # of the last look; of the look before output

SEQUENCE = """return { kind = "sequence", name = "soak", about = "fades all the time, then holds a last look",
  params = { seconds = { "number", min = 5, max = 3600, default = 10 } },
  run = function(p)
    local goal = 0
    while now() < p.seconds do
      goal = (goal + 37) % 101
      for f in rig.fixtures{} do
        out.fade(f, { intensity = (goal + f.id * 13) % 101 }, 2.5)
      end
      wait(2.5)
    end
    for f in rig.fixtures{} do
      out.fade(f, { intensity = 10 + f.id % 80 }, 1)
    end
    wait(5)                              -- the fade, three repeats, keep-alives: all through the bad cable
    crew.say("last look")
    wait(HOLD)
  end }
"""
RULE = """return { kind = "rule", name = "counts", about = "counts what was heard",
  run = function()
    local sum = { packets = 0, missing = 0, late = 0, repeated = 0, restarts = 0, losses = 0 }
    local sources, wrong = 0, 0
    for u in rig.universes() do
      for _, source in ipairs(rig.wire.universe(u).sources) do
        sources = sources + 1
        for key in pairs(sum) do
          sum[key] = sum[key] + source[key]
        end
      end
    end
    for f in rig.fixtures{} do
      local octet = (10 + f.id % 80) * 255 // 100 + ((10 + f.id % 80) * 255 % 100 >= 50 and 1 or 0)
      for slot = 1, 512 do
        if rig.wire.level(f.universe, slot) ~= octet * 100 / 255 then
          wrong = wrong + 1
        end
      end
    end
    print(('{"sources":%d,"wrong":%d,"dropped":%d,"packets":%d,"missing":%d,"late":%d,"repeated":%d,"restarts":%d,"losses":%d}'):format(
      sources, wrong, rig.wire.dropped, sum.packets, sum.missing, sum.late, sum.repeated, sum.restarts, sum.losses))
  end }
"""


def show(universes):
    lines = ["return { rigcall = 1, name = \"Soak\", sites = { { id = \"s\" } },",
             "types = { { id = \"t\", modes = { { id = \"m\", head = {}, cells = 512, slots = { \"intensity\" }, tail = {} } } } },", "universes = {"]
    lines += ["{ id = %d }," % u for u in range(1, universes + 1)]
    lines += ["}, fixtures = {"]
    lines += ["{ id = %d, type = \"t\", mode = \"m\", site = \"s\", universe = %d, address = 1 }," % (u, u) for u in range(1, universes + 1)]
    return "\n".join(lines + ["} }"])


def command(*words):
    subprocess.run(words, check=True, stdin=subprocess.DEVNULL)


def namespace():
    holder = subprocess.Popen(["unshare", "--net", "sh", "-c", "echo ready; exec cat"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    holder.stdout.readline()
    return holder, ["nsenter", "--target", str(holder.pid), "--net"]


def lay():
    """sender rca -- rcb cable rcc -- rcd receiver"""
    cable, at_cable = namespace()
    receiver, at_receiver = namespace()
    command("ip", "link", "set", "lo", "up")
    command("ip", "link", "add", "rca", "type", "veth", "peer", "name", "rcb", "netns", str(cable.pid))
    command(*at_cable, "ip", "link", "add", "rcc", "type", "veth", "peer", "name", "rcd", "netns", str(receiver.pid))
    command("ip", "addr", "add", "10.97.0.1/24", "dev", "rca")
    command(*at_receiver, "ip", "addr", "add", "10.97.0.2/24", "dev", "rcd")
    for prefix, name in ([], "rca"), (at_cable, "rcb"), (at_cable, "rcc"), (at_receiver, "rcd"):
        command(*prefix, "ip", "link", "set", name, "up")
    send_whole_checksums("rca")
    return cable, at_cable, receiver, at_receiver


def wait_for(stream, text):
    for line in stream:
        if text in line:
            return
    raise AssertionError("never said: " + text)


def write(folder, name, text):
    path = os.path.join(folder, name)
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    return path


def run(rigcall, bad_cable, seconds, universes, percent, folder):
    cable, at_cable, receiver, at_receiver = lay()
    os.environ["XDG_STATE_HOME"] = folder
    file = write(folder, "soak.show.lua", show(universes))
    sequence = write(folder, "soak.lua", SEQUENCE.replace("HOLD", str(HOLD_S)))
    rule = write(folder, "counts.lua", RULE)
    fault = subprocess.Popen(at_cable + [bad_cable, "rcb", "rcc", str(percent), "7"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    fault.stdout.readline()
    listen_s = LOOK_S + seconds + 2.5 + 5 + HOLD_S / 2
    ear = subprocess.Popen(at_receiver + [rigcall, "check", file, "--live", "--if", "rcd", "--seconds", str(listen_s), "--rules", rule,
                                          "--only", "counts"], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    mouth = subprocess.Popen([rigcall, "run", file, sequence, "--live", "--if", "rca", "--set", "seconds=%d" % seconds, "--answer", "skip"],
                             stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    wait_for(mouth.stderr, "last look")
    fault.send_signal(signal.SIGUSR1)
    out, heard = ear.communicate()
    rest, said = mouth.communicate()
    did = json.loads(fault.communicate()[0].splitlines()[-1])
    for holder in cable, receiver:
        holder.communicate()
    if ear.returncode or mouth.returncode:
        raise AssertionError(out + heard + rest + said)
    counts = json.loads(next(line for line in heard.splitlines() if line.startswith("counts: "))[len("counts: "):])
    print("cable:   ", did)
    print("receiver:", counts)
    print(rest, end="")
    return did, counts, universes


def compare(did, counts, universes):
    wanted = {"sources": universes, "wrong": 0, "dropped": 0, "restarts": 0, "losses": 0, "missing": did["lost"], "late": did["delayed"],
              "repeated": did["doubled"]}
    differ = ["%s: %d, the cable says %d" % (key, counts[key], value) for key, value in wanted.items() if counts[key] != value]
    if did["overrun"]:
        differ.append("the cable itself overran by %d frames" % did["overrun"])
    if min(did["lost"], did["delayed"], did["doubled"]) < did["carried"] // 500:
        differ.append("the cable was not bad enough to tell anything")
    return differ


def main():
    if os.geteuid() != 0 or not os.path.exists("/proc/self/ns/net"):
        print("skipped: needs root to make network namespaces")
        return 77
    if INSIDE not in os.environ:
        os.environ[INSIDE] = "1"
        try:
            os.execvp("unshare", ["unshare", "--net", sys.executable, "-B"] + sys.argv)
        except OSError as error:
            print("skipped: %s" % error)
            return 77
    rigcall, bad_cable, seconds, universes, percent = sys.argv[1:6]
    with tempfile.TemporaryDirectory() as folder:
        differ = compare(*run(os.path.abspath(rigcall), os.path.abspath(bad_cable), int(seconds), int(universes), float(percent), folder))
    for line in differ:
        print(line)
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
