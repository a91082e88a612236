// Wires the page. Every page works without this file; nothing here is global.
import { foldMenu } from "./menu.js";
import { guardForms } from "./forms.js";
import { wakeOutbox } from "./outbox/wake.js";

foldMenu(document);
guardForms(document);
wakeOutbox(document);
// Without what shrinks them, photos are sent as they were chosen.
if (document.querySelector('form:not([data-outbox]) input[accept^="image/"]')) {
  import("./plain_photos.js").then(({ shrinkPhotos }) => shrinkPhotos(document), () => {});
}
