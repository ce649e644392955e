// npm sacn's sender for bench_send: 512 universes, every slot array changed in every frame. Prints CPU ns a packet.
// usage: node bench_send.js NPM-FOLDER FRAMES [HOST]        (no host: multicast, as the route says)
'use strict'
const path = require('path')
const [npm, frames, host] = [process.argv[2], Number(process.argv[3]), process.argv[4]]
const { Sender } = require(path.join(npm, 'node_modules', 'sacn'))

const UNIVERSES = 512, SLOTS = 512, WARM_UP = 5
const senders = [], payloads = []
for (let i = 0; i < UNIVERSES; i++) {
  const options = { universe: i + 1, useUnicastDestination: host, defaultPacketOptions: { sourceName: 'bench' } }
  senders.push(new Sender(options))
  const payload = {}
  for (let slot = 1; slot <= SLOTS; slot++) payload[slot] = 0
  payloads.push(payload)
}

async function frame(n) {
  const sent = []
  for (let i = 0; i < UNIVERSES; i++) {
    payloads[i][1 + n % SLOTS] = n % 256
    sent.push(senders[i].send({ payload: payloads[i], useRawDmxValues: true }))
  }
  await Promise.all(sent)
}

async function main() {
  for (let n = 0; n < WARM_UP; n++) await frame(n)
  const before = process.cpuUsage()
  for (let n = 0; n < frames; n++) await frame(n)
  const used = process.cpuUsage(before)
  console.log((used.user + used.system) * 1000 / frames / UNIVERSES)
  for (const sender of senders) sender.close()
}
main()
