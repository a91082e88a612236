// Wires what htmx swaps; comes only with the pages that use htmx.
import { tendSwaps } from "./swaps.js";

tendSwaps(document);
