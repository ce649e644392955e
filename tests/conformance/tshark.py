"""Packets as tshark 4.0.17 decodes them: an E1.31 dissector that shares nothing with this project.

It knows root vector 4 only and calls the synchronisation address "reserved"; packets of fewer than 6 slots look malformed to it.
"""
import os
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree

SKIPPED = 77                          # what ctest is told to take for "skipped"
OPTIONS = ["--enable-heuristic", "acn", "-o", "acn.dmx_enable:TRUE",
           "-o", "ip.check_checksum:TRUE", "-o", "udp.check_checksum:TRUE"]

# One value a packet, named as tshark names them; everything else a packet has is left out of the comparison.
FIELDS = ["frame.time_epoch", "ip.src", "ip.dst", "ip.ttl", "ip.id", "ip.checksum.status", "ip.dsfield.dscp", "ipv6.src",
          "ipv6.dst", "ipv6.hlim", "ipv6.tclass.dscp", "udp.srcport", "udp.dstport", "udp.checksum.status", "acn.preamble_size", "acn.postamble_size", "acn.packet_identifier", "acn.protocol_id", "acn.cid",
          "acn.dmx_vector", "acn.dmx.source_name", "acn.dmx.priority", "acn.dmx.reserved", "acn.dmx.seq_number", "acn.dmx.options",
          "acn.dmx.option_p", "acn.dmx.option_s", "acn.dmx.universe", "acn.dmp_vector", "acn.dmx.first_property_address",
          "acn.dmx.increment", "acn.dmx.count", "acn.dmx.start_code2"]

EXTENDED = "udp.payload[18:4] == 00:00:00:08"     # root vector, ANSI E1.31-2018 Appendix A


def skip(reason):
    print("SKIP: " + reason)
    sys.exit(SKIPPED)


def need(program):
    if not shutil.which(program):
        skip(program + " is not installed")


def decode(path, only="udp"):
    """Decode the data packets of a capture. Gives a list of dicts: FIELDS as text, "lengths" of the three layers, "levels" as bytes.
    `only` may name a display filter. A packet that tshark finds malformed or complains about raises."""
    command = ["tshark", "-r", path, "-T", "pdml"] + OPTIONS + ["-Y", "(%s) && !(%s)" % (only, EXTENDED)]
    packets = []
    with tempfile.TemporaryFile() as complaints:
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=complaints) as process:
            for _, element in ElementTree.iterparse(process.stdout):
                if element.tag == "packet":
                    packets.append(packet_of(element))
                    element.clear()
        if process.returncode != 0:
            complaints.seek(0)
            raise RuntimeError("tshark: " + complaints.read().decode(errors="replace"))
    return packets


def extended(path, only="udp"):
    """Synchronisation and universe discovery packets of a capture, which tshark 4.0.17 does not decode: (time as text, IP destination,
    TTL, UDP payload) each; see extended.py."""
    command = ["tshark", "-r", path, "-Y", "(%s) && %s" % (only, EXTENDED), "-T", "fields"]
    for field in ("frame.time_epoch", "ip.dst", "ip.ttl", "udp.payload"):
        command += ["-e", field]
    lines = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    packets = [line.split("\t") for line in lines]
    return [(time, to, ttl, bytes.fromhex(payload.replace(":", ""))) for time, to, ttl, payload in packets]


def packet_of(element):
    protocols = [proto.get("name") for proto in element.iter("proto")]
    if "acn" not in protocols or "_ws.malformed" in protocols:
        raise AssertionError("tshark does not take this for an E1.31 packet: " + " ".join(protocols))
    packet = {"lengths": []}
    for field in element.iter("field"):
        name = field.get("name")
        if name == "_ws.expert":
            raise AssertionError("tshark complains: " + field.get("showname", ""))
        if name in FIELDS and name not in packet:
            packet[name] = field.get("show")
        elif name == "acn.pdu.length":
            packet["lengths"].append(int(field.get("show")))
        elif name == "acn.dmx.data" and "levels" not in packet:
            packet["levels"] = bytes.fromhex(field.get("value"))
    return packet


def group(universe):
    """ANSI E1.31-2018 9.3.1: 239.255.H.L."""
    return "239.255.%d.%d" % (universe >> 8, universe & 255)


def environment(folder):
    """Without colour, in a locale that every machine has, with what rigcall keeps (lock, host id) in a folder of the test's own,
    and with leaks of the program under test as failures."""
    return dict(os.environ, NO_COLOR="1", LC_ALL="C.UTF-8", XDG_STATE_HOME=folder, ASAN_OPTIONS="detect_leaks=1",
                UBSAN_OPTIONS="print_stacktrace=1:halt_on_error=1")
