// The way from a form to the next page, from the moment "Save" is pressed.

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
    end() {
      view.removeEventListener("beforeunload", leaving);
      view.removeEventListener("click", tapped);
    },
  };
}
