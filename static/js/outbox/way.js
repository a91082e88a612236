// The way from a form to the next page, from the moment "Save" is pressed.

// An engine forgets the oldest steps of a long way, and then goes nowhere.
const LONGEST_STEP = 1000;

// Follow whether somebody sets out for another page meanwhile: told by the browser, or, by
// engines that say nothing before a page goes, by the link that is tapped. Until all is safe
// the browser asks before it leaves.
export function watchWay(view) {
  let isOut;
  let isSafe;
  const leaving = (event) => {
    isOut = true;
    if (!isSafe) event.preventDefault();
  };
  const tapped = (press) => {
    const link = press.target.closest?.("a[href]:not([href^='#'], [target], [download])");
    if (link && !press.defaultPrevented) isOut = true;
  };
  const begin = () => {
    isOut = false;
    isSafe = false;
    view.addEventListener("beforeunload", leaving);
    view.addEventListener("click", tapped);
  };
  begin();
  return {
    // A form that is saved once more is followed again.
    begin,
    isOut: () => isOut,
    safe: () => { isSafe = true; },
    leadTo: (url) => leaveFor(url, view),
    end() {
      view.removeEventListener("beforeunload", leaving);
      view.removeEventListener("click", tapped);
    },
  };
}

// The way back leads to before the form, however many steps of it were walked. Never for
// somebody who is out for another page: once that page has come, the engine still takes
// these steps back, and the form would stand there in its place.
function leaveFor(url, view) {
  const { history, location } = view;
  const depth = history.state?.depth ?? 0;
  if (!depth) {
    location.replace(url);
    return;
  }
  let gone = false;
  const leave = () => {
    if (!gone) location.replace(url);
    gone = true;
  };
  view.addEventListener("popstate", leave, { once: true });
  view.addEventListener("pagehide", () => { gone = true; }, { once: true });
  history.go(-depth);
  view.setTimeout(leave, LONGEST_STEP);
}
