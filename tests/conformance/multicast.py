"""Live multicast between two network namespaces joined by a cable (veth): what leaves `rigcall run --live --if`, captured at the
other end and decoded by tshark 4.0.17, is what the trace says; and another source on the network stops a run, or does not.

Expected: the trace and rig.py; ANSI E1.31-2018 9.3.1 (groups), 6.2.6, 6.7.2; exit status 4 when another source of the same or a
higher priority is there, unless --beside (README, "Safety").
usage: multicast.py RIGCALL        (root only: it makes network namespaces)
"""
import ctypes
import fcntl
import os
import select
import signal
import socket
import struct
import subprocess
import sys
import tempfile
import unittest
import uuid

import dry_run
import extended
import rig
import tshark
from rig import Command

HERE = os.path.dirname(os.path.abspath(__file__))
OURS, THEIRS = "10.99.0.1", "10.99.0.2"           # addresses inside the namespaces, of the cable that runs use
OURS_ASIDE, THEIRS_ASIDE = "10.98.0.1", "10.98.0.2"          # of another network
IP_MULTICAST_ALL = 49                 # ip(7), linux/in.h
END_PORT = 5569                       # of the datagram that says that everything before it has arrived
INSIDE = "RIGCALL_CONFORMANCE_INSIDE"

COMMANDS = [
    Command(0, "set", fixture=11, param="pan", level="75"),
    Command(0, "fade", fixture=13, param="control", level="88.8", seconds="0.7"),
    Command("0.5", "set", fixture=14, param="zoom", level="20"),
]
SECONDS = "1"
UNIVERSE, WIRE, PRIORITY = 2, 513, 150            # the universe that rivals send


def command(*words):
    subprocess.run(words, check=True, stdin=subprocess.DEVNULL)


def send_whole_checksums(interface):
    """As `ethtool -K INTERFACE tx off`: a virtual cable leaves UDP checksums to a card that it does not have, and tshark would
    find them wrong. ioctl(2) with SIOCETHTOOL (0x8946) and ETHTOOL_STXCSUM (0x17) of linux/ethtool.h."""
    value = ctypes.create_string_buffer(struct.pack("II", 0x17, 0))
    request = struct.pack("16sP16x", interface.encode(), ctypes.addressof(value))
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_socket:
        fcntl.ioctl(any_socket, 0x8946, request)


class Cable:
    """The other namespace, held by a process that waits for its input to end, and the cable to it."""

    def __init__(self):
        self.holder = subprocess.Popen(["unshare", "--net", "sh", "-c", "echo ready; exec cat"], stdin=subprocess.PIPE,
                                       stdout=subprocess.PIPE, text=True)
        self.holder.stdout.readline()
        self.there = ["nsenter", "--target", str(self.holder.pid), "--net"]
        command("ip", "link", "set", "lo", "up")
        command(*self.there, "ip", "link", "set", "lo", "up")
        self.lay("rcours", OURS, "rctheirs", THEIRS)
        self.lay("rcaside", OURS_ASIDE, "rctaside", THEIRS_ASIDE)

    def lay(self, here, address_here, there, address_there):
        command("ip", "link", "add", here, "type", "veth", "peer", "name", there, "netns", str(self.holder.pid))
        for prefix, name, address in ([], here, address_here), (self.there, there, address_there):
            command(*prefix, "ip", "addr", "add", address + "/24", "dev", name)
            command(*prefix, "ip", "link", "set", name, "up")
        send_whole_checksums(here)

    def close(self):
        command("ip", "link", "del", "rcours")
        command("ip", "link", "del", "rcaside")
        self.holder.communicate()


class Tap:
    """tshark at the other end: ready when it has seen a datagram, done when it has seen one sent after everything else."""

    def __init__(self, cable, path):
        self.process = subprocess.Popen(cable.there + ["tshark", "-q", "-l", "-P", "-i", "rctheirs", "-w", path, "udp"],
                                        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        self.see("begin")

    def see(self, word):
        """Send a datagram again and again until tshark prints a line for one of its length."""
        length, seen = len(word) + 100, b""
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            while b"Len=%d" % length not in seen:
                sender.sendto(word.ljust(length).encode(), (THEIRS, END_PORT))
                if select.select([self.process.stdout], [], [], 0.2)[0]:
                    octets = os.read(self.process.stdout.fileno(), 65536)
                    if not octets:
                        raise AssertionError("tshark ended with status %d" % self.process.wait())
                    seen = seen[-200:] + octets

    def close(self):
        self.see("the end")
        self.process.send_signal(signal.SIGINT)
        self.process.communicate()


class Rival:
    def __init__(self, cable, priority, address=THEIRS):
        script = os.path.join(HERE, "rival.py")
        self.process = subprocess.Popen(cable.there + [sys.executable, "-B", script, address, str(priority), str(WIRE)],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.process.stdout.readline()

    def close(self):
        self.process.communicate()


def listener(address, port=0, group=None):
    """A UDP socket of this test's own, which joins a group on the interface that has the address."""
    receiver = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    receiver.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 22)
    if group:
        receiver.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        receiver.setsockopt(socket.IPPROTO_IP, IP_MULTICAST_ALL, 0)      # only what comes by that interface
        receiver.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, socket.inet_aton(group) + socket.inet_aton(address))
    receiver.bind((group or address, port))
    return receiver


def waiting(receiver):
    """All datagrams that wait in a socket."""
    octets = []
    while select.select([receiver], [], [], 0)[0]:
        octets.append(receiver.recv(2048))
    return octets


class Multicast(unittest.TestCase):
    maxDiff = 4000

    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        self.cable = Cable()
        self.addCleanup(self.cable.close)
        self.show, self.sequence, self.trace, self.capture, self.own = (
            os.path.join(self.folder.name, name) for name in ("a.show.lua", "a.lua", "a.trace", "a.pcapng", "own.pcap"))
        with open(self.show, "w", encoding="utf-8") as file:
            file.write(rig.show_text())
        with open(self.sequence, "w", encoding="utf-8") as file:
            file.write(rig.sequence_text(COMMANDS, SECONDS))

    def play(self, *options, status=0):
        result = subprocess.run([PROGRAM, "run", self.show, self.sequence, "--live", "--answer", "skip", *options],
                                env=tshark.environment(self.folder.name), capture_output=True, text=True, check=False)
        self.assertEqual(result.returncode, status, result.stdout + result.stderr)
        return result.stdout + result.stderr

    def test_what_arrives_is_what_the_trace_says(self):
        tap = Tap(self.cable, self.capture)
        self.play("--if", "rcours", "--trace", self.trace, "--pcap", self.own)
        tap.close()
        arrived = tshark.decode(self.capture, only="udp.dstport == 5568")
        captured = tshark.decode(self.own)
        traced, _ = dry_run.levels_of_trace(self.trace)
        cids = {packet["acn.cid"] for packet in arrived}
        self.assertEqual(len(cids), 1)
        for universe, (wire, priority) in rig.UNIVERSES.items():
            with self.subTest(universe=universe):
                stream = [packet for packet in arrived if packet["acn.dmx.universe"] == str(wire)]
                self.check_stream(stream, universe, wire, priority, traced[universe])
                # A live run's own capture holds the same, but for times and the kernel's identification numbers.
                own = [packet for packet in captured if packet["acn.dmx.universe"] == str(wire)]
                self.assertEqual([self.content(packet) for packet in own], [self.content(packet) for packet in stream])

    @staticmethod
    def content(packet):
        return {name: value for name, value in packet.items() if name not in ("frame.time_epoch", "ip.id")}

    def check_stream(self, stream, universe, wire, priority, traced):
        self.assertEqual({packet["ip.src"] for packet in stream}, {OURS})
        self.assertEqual({packet["ip.dst"] for packet in stream}, {tshark.group(wire)})
        self.assertEqual({packet["ip.ttl"] for packet in stream}, {"8"})
        self.assertEqual({packet["acn.dmx.priority"] for packet in stream}, {str(priority)})
        self.assertEqual([int(packet["acn.dmx.seq_number"]) for packet in stream], [number % 256 for number in range(len(stream))])
        self.assertEqual([packet["acn.dmx.option_s"] for packet in stream], ["0"] * (len(stream) - 3) + ["1"] * 3)
        levels = [packet["levels"] for packet in stream]
        changes = [now for before, now in zip([None] + levels, levels) if now != before]
        self.assertEqual(changes, [traced[frame] for frame in sorted(traced)])
        self.assertEqual(levels[-4:], [rig.Expected([], 40).defaults(universe)] * 4)

    def content_beside(self, capture):
        return [(to, ttl, octets) for _, to, ttl, octets in tshark.extended(capture, only="udp.dstport == 5568")]

    def test_what_goes_out_beside_data(self):
        """Each frame that has data ends with one synchronisation packet; universes are announced at the start, and leave the list at
        the end. As a receiver on the network gets it, octet by octet."""
        tap = Tap(self.cable, self.capture)
        self.play("--if", "rcours", "--pcap", self.own, "--sync", "7001", "--force-sync")
        tap.close()
        data = tshark.decode(self.capture, only="udp.dstport == 5568")
        cid, name = uuid.UUID(data[0]["acn.cid"]).bytes, data[0]["acn.dmx.source_name"].encode()
        beside = self.content_beside(self.capture)
        announced = sorted({wire for wire, _ in rig.UNIVERSES.values()} | {7001})
        lists = [packet for packet in beside if packet[0] == extended.DISCOVERY_GROUP]
        self.assertEqual(lists, [(extended.DISCOVERY_GROUP, "8", octets) for universes in (announced, [])
                                 for octets in extended.discovery(cid, name, universes)])
        self.assertEqual(beside[-1], lists[-1])
        syncs = [packet for packet in beside if packet[0] != extended.DISCOVERY_GROUP]
        self.assertEqual(syncs, [("239.255.27.89", "8", extended.sync(cid, 7001, number)) for number in range(len(syncs))])
        self.assertEqual({packet["acn.dmx.reserved"] for packet in data if packet["acn.dmx.option_s"] == "0"}, {"7001"})
        self.assertEqual({packet["acn.dmx.reserved"] for packet in data if packet["acn.dmx.option_s"] == "1"}, {"0"})
        self.check_order(data, syncs)
        self.assertEqual(self.content_beside(self.own), beside)

    def check_order(self, data, syncs):
        """No two packets of one universe without a synchronisation packet between them, and none that follows no data."""
        times = [(float(time), "sync") for time, to, _, _ in tshark.extended(self.capture) if to == "239.255.27.89"]
        times += [(float(packet["frame.time_epoch"]), packet["acn.dmx.universe"]) for packet in data]
        frames, frame = 0, set()
        for _, what in sorted(times):
            if what == "sync":
                self.assertTrue(frame)
                frames, frame = frames + 1, set()
            else:
                self.assertNotIn(what, frame)
                frame.add(what)
        self.assertEqual((frames, frame), (len(syncs), set()))

    def test_two_interfaces_get_the_same(self):
        """Suppression and sequence numbers are a universe's, not an interface's: each interface has every packet, of any kind."""
        self.play("--if", "rcours", "--if", "rcaside", "--pcap", self.own, "--sync", "7001")
        streams = []
        for source in (OURS, OURS_ASIDE):
            data = tshark.decode(self.own, only="ip.src == " + source)
            content = [dict(self.content(packet), **{"ip.src": None, "udp.srcport": None}) for packet in data]
            for wire, _ in rig.UNIVERSES.values():
                numbers = [int(packet["acn.dmx.seq_number"]) for packet in data if packet["acn.dmx.universe"] == str(wire)]
                self.assertEqual(numbers, [number % 256 for number in range(len(numbers))])
                self.assertGreater(len(numbers), 0)
            beside = [packet[1:] for packet in tshark.extended(self.own, only="ip.src == " + source)]
            self.assertGreater(len(beside), 2)
            streams.append((content, beside))
        self.assertEqual(streams[0], streams[1])

    def test_several_interfaces_get_the_same(self):
        """And the run's own capture holds a record for each that a packet left on."""
        with listener(OURS, 5568, tshark.group(WIRE)) as first, listener(OURS_ASIDE, 5568, tshark.group(WIRE)) as second:
            text = self.play("--if", "rcaside", "--if", "rcours", "--pcap", self.own)
            heard = {OURS: waiting(first), OURS_ASIDE: waiting(second)}
        sent = tshark.decode(self.own)
        self.assertGreater(len(sent), 0)
        self.assertEqual(heard[OURS], heard[OURS_ASIDE])
        self.assertIn(" %d packets" % (len(sent) + len(tshark.extended(self.own))), text)
        for address, octets in heard.items():
            own = [packet for packet in sent if packet["ip.src"] == address and packet["acn.dmx.universe"] == str(WIRE)]
            self.assertEqual([packet[126:] for packet in octets], [packet["levels"] for packet in own])

    def test_ipv6_arrives_as_the_capture_says(self):
        """ANSI E1.31-2018 9.3.2: ff18::8300:HHLL; hop limit and DSCP as asked for; Preview_Data, 6.2.6."""
        command("ip", "addr", "add", "2001:db8:99::1/64", "dev", "rcours", "nodad")
        tap = Tap(self.cable, self.capture)
        self.play("--if", "rcours", "--ipv6", "--ttl", "5", "--dscp", "46", "--preview", "--pcap", self.own)
        tap.close()
        arrived = tshark.decode(self.capture, only="udp.dstport == 5568")
        names = ("acn.dmx.universe", "ipv6.src", "ipv6.dst", "ipv6.hlim", "ipv6.tclass.dscp", "acn.dmx.option_p")
        self.assertEqual({tuple(packet[name] for name in names) for packet in arrived},
                         {(str(wire), "2001:db8:99::1", "ff18::8300:%x" % wire, "5", "46", "1") for wire, _ in rig.UNIVERSES.values()})
        self.assertEqual([self.content(packet) for packet in tshark.decode(self.own)], [self.content(packet) for packet in arrived])

    def test_a_unicast_transmitter_gets_its_universe(self):
        """Its host in place of the group, and nobody else's universe; the others stay on multicast."""
        with open(self.show, "w", encoding="utf-8") as file:
            file.write(rig.show_text(host=THEIRS))
        tap = Tap(self.cable, self.capture)
        self.play("--if", "rcours", "--pcap", self.own)
        tap.close()
        arrived = tshark.decode(self.capture, only="udp.dstport == 5568")
        ways = {(packet["acn.dmx.universe"], packet["ip.src"], packet["ip.dst"], packet["ip.ttl"]) for packet in arrived}
        self.assertEqual(ways, {("1", OURS, THEIRS, "64"), ("513", OURS, "239.255.2.1", "8"), ("63999", OURS, "239.255.249.255", "8")})
        self.assertEqual([self.content(packet) for packet in tshark.decode(self.own)], [self.content(packet) for packet in arrived])

    def test_a_rival_of_the_same_priority_stops_the_run(self):
        rival = Rival(self.cable, PRIORITY)
        self.addCleanup(rival.close)
        tap = Tap(self.cable, self.capture)
        text = self.play("--if", "rcours", status=4)
        tap.close()
        self.assertIn(THEIRS, text)
        self.assertEqual(tshark.decode(self.capture, only="udp.dstport == 5568 && ip.src == " + OURS), [])

    def test_a_rival_of_a_higher_priority_stops_the_run(self):
        rival = Rival(self.cable, PRIORITY + 1)
        self.addCleanup(rival.close)
        self.play("--if", "rcours", status=4)

    def test_a_rival_of_a_lower_priority_does_not(self):
        rival = Rival(self.cable, PRIORITY - 1)
        self.addCleanup(rival.close)
        self.play("--if", "rcours")

    def test_beside_a_rival(self):
        rival = Rival(self.cable, PRIORITY)
        self.addCleanup(rival.close)
        self.play("--if", "rcours", "--beside")

    def test_one_address_is_not_exempt_from_the_look(self):
        rival = Rival(self.cable, PRIORITY)
        self.addCleanup(rival.close)
        self.play("--if", "rcours", "--to", "127.0.0.1", "--port", "40001", status=4)

    def test_a_rival_on_another_network_does_not(self):
        """Even where a program on this host listens to it there."""
        rival = Rival(self.cable, 200, THEIRS_ASIDE)
        self.addCleanup(rival.close)
        with listener(OURS_ASIDE, 5568, tshark.group(WIRE)) as other:
            self.play("--if", "rcours")
            self.assertGreater(len(waiting(other)), 0)

    def test_this_host_hears_its_own_multicast(self):
        """A visualiser on the same machine, for one."""
        with listener(OURS, 5568, tshark.group(WIRE)) as other:
            self.play("--if", "rcours", "--pcap", self.own)
            heard = [octets[126:] for octets in waiting(other)]      # universe discovery has a group of its own
        sent = tshark.decode(self.own, only="acn.dmx.universe == %d" % WIRE)
        self.assertEqual(heard, [packet["levels"] for packet in sent])

    def test_the_target_keeps_its_port(self):
        """A receiver that shares its port with nobody gets every packet, and the run does not trip over it."""
        with listener("0.0.0.0") as receiver:
            port = receiver.getsockname()[1]
            self.play("--if", "rcours", "--to", "127.0.0.1", "--port", str(port), "--pcap", self.own)
            received = waiting(receiver)
        sent = tshark.decode(self.own)
        self.assertGreater(len(sent), 0)
        data = [octets for octets in received if octets[21] == 4]
        self.assertEqual([octets[126:] for octets in data], [packet["levels"] for packet in sent])
        self.assertEqual(len(received) - len(data), 2)                # universe discovery, at the start and at the end
        self.assertEqual({packet["ip.src"] for packet in sent}, {"127.0.0.1"})


if __name__ == "__main__":
    for needed in ("tshark", "ip", "unshare", "nsenter"):
        tshark.need(needed)
    if not os.environ.get(INSIDE):
        trial = subprocess.run(["unshare", "--net", "true"], check=False, stderr=subprocess.DEVNULL)
        if os.geteuid() != 0 or trial.returncode != 0:
            tshark.skip("making network namespaces needs root")
        os.environ[INSIDE] = "yes"
        os.execvp("unshare", ["unshare", "--net", sys.executable, "-B"] + sys.argv)
    PROGRAM = sys.argv.pop()
    unittest.main()
