// A form is sent once, however often the button is pressed. Forms of the outbox look
// after themselves, and a page brought back by "Back" may be sent again.
const sent = new WeakSet();

export function guardForms(page) {
  page.addEventListener("submit", (sending) => {
    const form = sending.target;
    if (sending.defaultPrevented || form.method === "get") return;
    if (form.matches("[data-outbox], [hx-post], [data-hx-post]")) return;
    if (sent.has(form)) {
      sending.preventDefault();
      return;
    }
    sent.add(form);
    sending.submitter?.setAttribute("aria-disabled", "true");
  });
  page.defaultView.addEventListener("pageshow", (shown) => {
    if (!shown.persisted) return;
    for (const form of page.forms) {
      sent.delete(form);
      form.querySelector('[aria-disabled="true"]')?.removeAttribute("aria-disabled");
    }
  });
}
