import { COMPATIBLE, licenceOf, shippedPackages } from "./licences.js";

/** `npm run licences`: every package that busdip runs with, by licence; fails on one that is not compatible or not told. */
const byLicence = new Map<string, string[]>();
for (const one of shippedPackages()) {
  const licence = licenceOf(one) ?? "not told";
  const name = `${one.name} ${one.version}${one.optional ? " (optional)" : ""}`;
  byLicence.set(licence, [...(byLicence.get(licence) ?? []), name]);
}
for (const [licence, names] of [...byLicence].sort())
  console.log(`${licence}: ${names.length}\n  ${names.join("\n  ")}`);
console.log(`
node-av is MIT, but its native part holds FFmpeg, which is under LGPL and GPL. It is optional and never part of busdip's
own package: npm fetches it from its makers. Who passes on a copy of busdip together with it follows the GPL for the whole.
libsql's native part is MIT. The font's package says OFL-1.1; the faces themselves carry the Bitstream Vera licence.`);
process.exitCode = [...byLicence.keys()].every((licence) => COMPATIBLE.has(licence)) ? 0 : 1;
