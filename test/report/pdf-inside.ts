import { inflateSync } from "node:zlib";

/** A PDF taken apart by Node's own unpacker, apart from the code under test. */
export interface PdfInside {
  readonly text: string;
  /** Bodies of all objects by number, streams unpacked. */
  readonly objects: ReadonlyMap<number, { readonly dictionary: string; readonly stream: Buffer | null }>;
}

export function pdfInside(bytes: Uint8Array): PdfInside {
  const buffer = Buffer.from(bytes);
  const text = buffer.toString("latin1");
  const table = Number(/startxref\n(\d+)\n%%EOF\n$/.exec(text)![1]);
  const rows = [...text.slice(table).matchAll(/^(\d{10}) \d{5} n $/gm)].map((row) => Number(row[1]));
  const objects = new Map<number, { dictionary: string; stream: Buffer | null }>(
    rows.map((offset, i) => {
      const body = text.slice(offset, text.indexOf("\nendobj", offset));
      if (!body.startsWith(`${i + 1} 0 obj\n`)) throw new Error(`object ${i + 1} does not stand at its offset`);
      const at = body.indexOf("\nstream\n");
      if (at < 0) return [i + 1, { dictionary: body, stream: null }] as const;
      const dictionary = body.slice(0, at);
      const start = offset + at + "\nstream\n".length;
      const stored = buffer.subarray(start, start + Number(/\/Length (\d+)/.exec(dictionary)![1]));
      return [
        i + 1,
        { dictionary, stream: dictionary.includes("/FlateDecode") ? inflateSync(stored) : stored },
      ] as const;
    }),
  );
  return { text, objects };
}

const ofType = (inside: PdfInside, type: string) =>
  [...inside.objects.values()].filter(({ dictionary }) => new RegExp(`/Type /${type}\\b(?!\\w)`).test(dictionary));

export { ofType };

/** The text of each page in the order in which it is drawn, through the fonts' own maps to Unicode. */
export function pageTexts(inside: PdfInside): string[] {
  const reference = (dictionary: string, key: string) => Number(new RegExp(`/${key} (\\d+) 0 R`).exec(dictionary)![1]);
  return ofType(inside, "Page").map(({ dictionary }) => {
    const resources = inside.objects.get(reference(dictionary, "Resources"))!.dictionary;
    const maps = new Map(
      [...resources.matchAll(/\/(F\d+) (\d+) 0 R/g)].map(([, name, id]) => {
        const font = inside.objects.get(Number(id))!.dictionary;
        return [
          name!,
          unicodeMap(inside.objects.get(reference(font, "ToUnicode"))!.stream!.toString("latin1")),
        ] as const;
      }),
    );
    const content = inside.objects.get(reference(dictionary, "Contents"))!.stream!.toString("latin1");
    let map = new Map<number, string>();
    let text = "";
    for (const [, font, shown] of content.matchAll(/\/(F\d+) [\d.]+ Tf|\[([^\]]*)\] TJ/g)) {
      if (font !== undefined) map = maps.get(font)!;
      else {
        for (const [, hex] of shown!.matchAll(/<([0-9a-f]*)>/g)) {
          for (let i = 0; i < hex!.length; i += 4)
            text += map.get(Number.parseInt(hex!.slice(i, i + 4), 16)) ?? "\ufffd";
        }
        text += "\n";
      }
    }
    return text;
  });
}

function unicodeMap(cmap: string): Map<number, string> {
  const map = new Map<number, string>();
  for (const [, from, , list] of cmap.matchAll(/<([0-9a-f]{4})> <([0-9a-f]{4})> \[([^\]]*)\]/g)) {
    const first = Number.parseInt(from!, 16);
    [...list!.matchAll(/<([0-9a-f ]*)>/g)].forEach(([, hex], i) => {
      map.set(first + i, Buffer.from(hex!.replaceAll(" ", ""), "hex").swap16().toString("utf16le"));
    });
  }
  return map;
}
