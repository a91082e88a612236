// Fills the angles of a horizon from the phone's own tilt and heading, where it may.

const DIRECTIONS = 16;

/** The angle of the phone's long edge above level, degrees, from its tilt. */
export function angleUp(beta) {
  return Math.max(0, Math.min(90, Math.abs(beta) > 90 ? 180 - Math.abs(beta) : beta));
}

/** The compass heading of the phone's top edge, degrees from magnetic north, or null. */
export function heading(event) {
  if (typeof event.webkitCompassHeading === "number") return event.webkitCompassHeading;
  if (event.absolute && typeof event.alpha === "number") return (360 - event.alpha) % 360;
  return null;
}

/** Which of the sixteen directions a heading is nearest to. */
export function nearest(degrees) {
  return Math.round(degrees / (360 / DIRECTIONS)) % DIRECTIONS;
}

function begin(form) {
  const panel = form.querySelector("[data-tilt-panel]");
  if (!panel || typeof window.DeviceOrientationEvent === "undefined") return;
  const shown = panel.querySelector("[data-tilt-shown]");
  const said = panel.querySelector("[data-tilt-said]");
  const start = panel.querySelector("[data-tilt-start]");
  const take = panel.querySelector("[data-tilt-take]");
  const fields = [...form.querySelectorAll("[data-azimuth]")];
  let now = null;

  function heard(event) {
    const around = heading(event);
    if (around === null || typeof event.beta !== "number") return;
    now = { around, up: angleUp(event.beta) };
    take.hidden = false;
    const label = form.querySelector(`label[for="${fields[nearest(around)].id}"]`);
    shown.textContent = panel.dataset.shown
      .replace("{angle}", Math.round(now.up))
      .replace("{direction}", label ? label.firstChild.textContent.trim() : Math.round(around));
  }

  start.addEventListener("click", async () => {
    const Orientation = window.DeviceOrientationEvent;
    if (typeof Orientation.requestPermission === "function") {
      const answer = await Orientation.requestPermission().catch(() => "denied");
      if (answer !== "granted") {
        said.textContent = panel.dataset.none;
        return;
      }
    }
    window.addEventListener("deviceorientationabsolute", heard);
    window.addEventListener("deviceorientation", heard);
    start.hidden = true;
    window.setTimeout(() => {
      if (now === null) said.textContent = panel.dataset.none;
    }, 3000);
  });

  take.addEventListener("click", () => {
    if (now === null) return;
    const field = fields[nearest(now.around)];
    field.value = String(Math.round(now.up));
    form.elements.how.value = "tilt";
    said.textContent = panel.dataset.taken.replace("{angle}", field.value);
  });

  panel.hidden = false;
}

if (typeof document !== "undefined") {
  for (const form of document.querySelectorAll("form[data-tilt]")) begin(form);
}
