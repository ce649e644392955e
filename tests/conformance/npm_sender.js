// npm sacn 4.6.2 as an independent source: sends to 127.0.0.1 forty times a second until its input ends.
// usage: node npm_sender.js NPM-FOLDER NAME PRIORITY UNIVERSE...
'use strict'
const path = require('path')
const { Sender } = require(path.join(process.argv[2], 'node_modules', 'sacn'))

const [name, priority, ...universes] = process.argv.slice(3)
const senders = universes.map(Number).map((universe) => new Sender({ universe, useUnicastDestination: '127.0.0.1' }))
const payload = {}
for (let slot = 1; slot <= 512; slot++)
  payload[slot] = slot % 101
const timer = setInterval(() => {
  for (const sender of senders)
    sender.send({ payload, sourceName: name, priority: Number(priority) })
}, 25)
process.stdin.resume()
process.stdin.on('end', () => {
  clearInterval(timer)
  senders.forEach((sender) => sender.close())
})
