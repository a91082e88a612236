// One schedule: a storm of mishaps while people record, and the calm after it.
import { makeChance } from "./chance.mjs";
import { faultOf } from "./adversary.mjs";
import { Phone } from "./phone.mjs";

const pause = (ms) => new Promise((go) => { setTimeout(go, ms); });
const MINUTE = 60_000;
// A lease that a dead tab held runs out in the test by turning the clock on.
const now = Date.now;
let turnedOn = 0;
Date.now = () => now() + turnedOn;

const LOOKS = [
  () => [["all_well", "1"]],
  () => [["all_well", "1"], ["condition", "4"], ["note", "Leaves – grün, 緑"]],
  () => [
    ["sign", "sucker"], ["sucker:graft", "below"], ["sucker:woody", "no"],
    ["sucker:shown", "act"], ["condition", "3"],
  ],
];

export class Schedule {
  constructor({ seed, world, bug }, ask) {
    this.chance = makeChance(seed);
    this.world = world;
    this.ask = ask;
    this.harsh = 0;
    this.unclear = 0;
    this.trail = [];
    const { chance } = this;
    const mean = 0.25 + 0.35 * chance.next();
    this.mean = mean;
    const faults = () => {
      const fault = faultOf(chance, { harsh: this.harsh });
      const said = fault["x-line"] ?? fault["x-fault"];
      if (said) this.trail.push(said);
      return fault;
    };
    this.phones = Array.from({ length: chance.is(0.35) ? 2 : 1 }, (_, n) => new Phone(n, {
      world,
      chance,
      skew: chance.one([0, 0, 20_000, -60 * MINUTE, 30 * MINUTE]),
      locking: chance.weighed([[3, "locks"], [3, "lease"], [3, "broken"]]),
      bug,
      faults,
    }));
    this.people = [chance.one(world.people)];
    this.people.push(chance.one(world.people.filter((one) => one !== this.people[0])));
  }

  photo(by, parent) {
    const bytes = new Uint8Array(this.world.picture.length + 4 + 16);
    // A comment of its own makes every photo another one (JPEG marker FFFE).
    bytes.set(this.world.picture.subarray(0, 2));
    bytes.set([0xff, 0xfe, 0, 18], 2);
    crypto.getRandomValues(bytes.subarray(6, 22));
    bytes.set(this.world.picture.subarray(2), 22);
    return {
      key: crypto.randomUUID(), kind: "photo", ...by,
      fields: {
        inspection: parent, finding_sign: "", taken_at: by.made_at, full_size: false,
        file_name: "leaf.jpg", round: "",
      },
      title: "Photo", file_type: "image/jpeg", bytes: bytes.buffer,
    };
  }

  // Something other than a look: what was noted is its key, by which it is found again.
  event(key, by) {
    const form = [["what", "other"], ["happened_on", "2026-01-15"], ["note", key]];
    const tree = this.chance.one(this.world.trees);
    return { key, kind: "event", ...by, fields: { tree, form }, title: tree };
  }

  // As many entries as one saving makes: a record with photos, an event, or a photo alone.
  saving(phone) {
    const { chance, world } = this;
    const person = phone.signedIn;
    const seen = Date.parse(phone.moment()) - 120 * MINUTE + phone.count * MINUTE;
    const by = {
      person: person.id, person_name: person.name, orchard: world.orchard,
      made_at: new Date(seen).toISOString(),
    };
    const notes = { seen_at: new Date(seen - phone.skew).toISOString(), phone: phone.name };
    if (chance.is(0.08)) return [[this.photo(by, "")], notes];
    const key = crypto.randomUUID();
    if (chance.is(0.15)) return [[this.event(key, by)], notes];
    const form = chance.one(LOOKS)();
    const tree = chance.is(0.06) ? "Z-99" : chance.one(world.trees);
    const look = { key, kind: "inspection", ...by, fields: { tree, form }, title: tree };
    const photos = Array.from({ length: chance.weighed([[5, 0], [3, 1], [1, 2]]) },
      () => this.photo(by, key));
    return [[look, ...photos], notes];
  }

  async mend(phone, tab) {
    const refused = (await tab.store.list()).find((entry) => entry.state === "refused");
    if (!refused) return;
    const { seq, revision, state, reason, tries, ...entry } = refused;
    if (entry.fields.tree === "Z-99") entry.fields.tree = this.world.trees[0];
    const wrong = phone.accepted.get(entry.key);
    if (await tab.save([entry], {}) && wrong) {
      Object.assign(phone.accepted.get(entry.key), { tree: entry.fields.tree });
    }
  }

  act(phone) {
    const { chance } = this;
    const [first, second] = this.people;
    const tab = phone.aTab();
    return chance.weighed([
      [10, async () => { await tab.save(...this.saving(phone)); }],
      [8, async () => { tab.nudge().catch(() => {}); await pause(chance.whole(40)); }],
      [3, async () => { await tab.nudge(); }],
      [3, async () => { phone.openTab().nudge().catch(() => {}); }],
      [3, async () => { tab.diesAt = tab.steps + 1 + chance.whole(14); }],
      [1, async () => { phone.killAll(); }],
      [1.5, async () => { phone.jar.set("sessionid", "0".repeat(32)); }],
      [2, async () => { await phone.signIn(phone.signedIn); }],
      [1, async () => { await phone.signIn(phone.signedIn === first ? second : first); }],
      [1, async () => { phone.jar.set("csrftoken", "b".repeat(32)); }],
      [1, async () => { phone.jar.delete("csrftoken"); }],
      [1, async () => {
        tab.full = true;
        await tab.save(...this.saving(phone));
        tab.full = chance.is(0.3);
      }],
      [2, async () => { await this.mend(phone, tab); }],
      [1, async () => { turnedOn += 91_000; }],
      [0.5, async () => {
        await this.ask({ ask: "left", person: phone.signedIn.id, left: chance.is(0.5) });
      }],
      [0.06, async () => {
        this.trail.push("restart@server");
        await this.ask({ ask: "restart the server" });
      }],
    ]);
  }

  async storm() {
    const { chance } = this;
    for (const phone of this.phones) {
      await phone.signIn(this.people[chance.is(0.7) ? 0 : 1]);
    }
    this.harsh = this.mean;
    for (let n = 8 + chance.whole(10); n > 0; n -= 1) {
      const phone = chance.one(this.phones);
      // A dead tab answers nothing any more: the person goes on with the next thing.
      await Promise.race([this.act(phone)(), pause(1000)]);
      if (chance.is(0.25)) await this.ask({ ask: "look" });
    }
    // The storm ends on a last try to send, or with dead batteries.
    const lastTry = chance.is(0.5);
    for (const phone of this.phones) {
      const tries = lastTry ? phone.tabs.map((tab) => tab.nudge().catch(() => {})) : [];
      await Promise.race([Promise.all(tries), pause(1500)]);
      phone.killAll();
    }
    this.harsh = 0;
    await this.ask({ ask: "quiet" });
    return this.state();
  }

  async calm() {
    for (const person of this.people) {
      await this.ask({ ask: "left", person: person.id, left: false });
    }
    for (let n = 0; n < 6; n += 1) {
      let left = 0;
      for (const phone of this.phones) {
        turnedOn += 91_000;
        const tab = phone.openTab();
        for (const person of this.people) {
          if (!(await tab.store.list()).some((entry) => entry.person === person.id)) continue;
          await phone.signIn(person);
          for (let m = 0; m < 4; m += 1) await this.mend(phone, tab);
          await tab.nudge();
        }
        phone.killAll();
        left += (await phone.outbox()).length;
      }
      if (!left) break;
      // What is away for a while comes back meanwhile: a phone tries again later, too.
      await pause(250);
    }
    return this.state();
  }

  async state() {
    const phones = [];
    for (const phone of this.phones) {
      phones.push({ ...phone.report(), outbox: await phone.outbox(), locking: phone.locking });
    }
    return { phones, trail: this.trail };
  }
}
