// npm sacn's receiver for bench_receive: 512 universes on loopback. Prints "ready", then, half a second after the last packet, CPU
// ns a packet between the first and the last one, and how many came.
// usage: node bench_receive.js NPM-FOLDER
'use strict'
const path = require('path')
const { Receiver } = require(path.join(process.argv[2], 'node_modules', 'sacn'))

const UNIVERSES = 512, SILENCE_MS = 500
const universes = Array.from({ length: UNIVERSES }, (_, i) => i + 1)
const receiver = new Receiver({ universes, iface: '127.0.0.1', reuseAddr: true })
let count = 0, first, last, seen = 0

function fail(error) {
  console.error(error)
  process.exit(1)
}
for (const event of ['error', 'PacketCorruption', 'PacketOutOfOrder']) receiver.on(event, fail)
receiver.on('packet', () => {
  count++
  if (count === 1) first = process.cpuUsage()
  if (count % 1000 === 0) last = { count, used: process.cpuUsage(first) }
})
setInterval(() => {
  if (count === 0 || count !== seen) {
    seen = count
    return
  }
  console.log((last.used.user + last.used.system) * 1000 / (last.count - 1), count)
  process.exit(0)
}, SILENCE_MS)
// The receiver joins its groups when it is bound, which is before this runs.
receiver.socket.on('listening', () => setImmediate(() => console.log('ready')))
