// Wires the page. Every page works without this file; nothing here is global.
import { foldMenu } from "./menu.js";
import { guardForms } from "./forms.js";
import { tendSwaps } from "./swaps.js";

foldMenu(document);
guardForms(document);
tendSwaps(document);
