import { billOfMaterials } from "./bill-of-materials.js";

/** `npm run sbom`: the bill of materials on standard output. */
console.log(JSON.stringify(billOfMaterials(), null, 2));
