// The menu folds on a phone and stands open at a desk.
export function foldMenu(page) {
  const menu = page.querySelector("details[data-menu]");
  if (!menu) return;
  const desk = page.defaultView.matchMedia("(min-width: 60em)");
  const settle = () => { menu.open = desk.matches; };
  settle();
  desk.addEventListener("change", settle);
  page.addEventListener("keydown", (press) => {
    if (press.key !== "Escape" || desk.matches || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
  page.addEventListener("click", (press) => {
    if (!desk.matches && menu.open && !menu.contains(press.target)) menu.open = false;
  });
}
