// Chance that can be repeated: the same seed, the same throws.
export function makeChance(seed) {
  let state = (seed * 2654435761) >>> 0;
  function next() {
    // mulberry32, a small generator in the public domain (from memory).
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }
  const whole = (most) => Math.floor(next() * most);
  return {
    next,
    whole,
    one: (list) => list[whole(list.length)],
    is: (share) => next() < share,
    // One of several, by weight: [[weight, what], ...].
    weighed(list) {
      let left = next() * list.reduce((sum, [weight]) => sum + weight, 0);
      return (list.find(([weight]) => (left -= weight) < 0) ?? list.at(-1))[1];
    },
  };
}
