// Runs schedules that are asked for, one line of JSON each, and answers in lines of JSON.
// Between storm and calm it waits: the one who asks looks at server and phones.
import { createInterface } from "node:readline";
import { Schedule } from "./schedule.mjs";

const lines = createInterface({ input: process.stdin })[Symbol.asyncIterator]();
const tell = (said) => process.stdout.write(`${JSON.stringify(said)}\n`);
const hear = async () => {
  const { value, done } = await lines.next();
  if (done) process.exit(0);
  return JSON.parse(value);
};
// One question at a time, whoever asks.
let asking = Promise.resolve();
const ask = (said) => {
  asking = asking.then(async () => {
    tell(said);
    return hear();
  });
  return asking;
};

process.on("unhandledRejection", (fault) => {
  tell({ broken: String(fault?.stack ?? fault) });
});

for (;;) {
  const { seed, bug, world } = await hear();
  const picture = new Uint8Array(Buffer.from(world.picture, "base64"));
  try {
    const schedule = new Schedule({ seed, bug, world: { ...world, picture } }, ask);
    await ask({ storm: await schedule.storm() });
    await ask({ calm: await schedule.calm() });
  } catch (fault) {
    tell({ broken: String(fault.stack ?? fault) });
    await hear();
  }
}
