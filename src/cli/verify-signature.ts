import { createHash, createPrivateKey, createPublicKey, type KeyObject, sign, verify } from "node:crypto";
import { InputError } from "../importers/input-error.js";
import { readTextFile } from "./input-file.js";

const SIGNATURE_SCHEMA_NAME = "busdip-signature/1";

/** A detached signature as the text of a file; `signature` is Ed25519 over the bytes of the signed file. */
interface SignatureFile {
  readonly schema: typeof SIGNATURE_SCHEMA_NAME;
  readonly algorithm: "Ed25519";
  readonly sha256: string;
  readonly publicKey: string;
  readonly signature: string;
  readonly note: string;
}

const NOTE =
  "Shows that this file was made or held by whoever has the key; it is no person's signature of a maintenance entry.";

/**
 * The shop's private key.
 *
 * @throws InputError where the file holds no unencrypted Ed25519 private key in PEM.
 */
export async function readSigningKey(path: string): Promise<KeyObject> {
  const text = await readTextFile(path, "the signing key");
  const fault = new InputError({
    file: path,
    problem: "this is not an Ed25519 private key in PEM without a passphrase",
    remedy: "make one with: openssl genpkey -algorithm ed25519 -out shop-key.pem",
  });
  try {
    const key = createPrivateKey(text);
    if (key.asymmetricKeyType !== "ed25519") throw fault;
    return key;
  } catch {
    throw fault;
  }
}

/** The text of the signature file that goes beside a file. */
export function signatureFile(bytes: Uint8Array, key: KeyObject): string {
  const content: SignatureFile = {
    schema: SIGNATURE_SCHEMA_NAME,
    algorithm: "Ed25519",
    sha256: createHash("sha256").update(bytes).digest("hex"),
    publicKey: createPublicKey(key).export({ type: "spki", format: "der" }).toString("base64"),
    signature: sign(null, bytes, key).toString("base64"),
    note: NOTE,
  };
  return `${JSON.stringify(content, null, 2)}\n`;
}

/** What a signature shows. */
export interface SignatureCheck {
  readonly state: "holds" | "changed" | "not checked";
  readonly detail: string;
}

/**
 * Checks a signature file against the signed bytes; `trusted` is the shop's public key, without which the signature
 * shows only that one key made it.
 */
export function checkSignature(text: string, bytes: Uint8Array, trusted: KeyObject | null): SignatureCheck {
  const content = parsed(text);
  if (content === null) return { state: "changed", detail: "the signature file cannot be read" };
  let key: KeyObject;
  try {
    key = createPublicKey({ key: Buffer.from(content.publicKey, "base64"), format: "der", type: "spki" });
  } catch {
    return { state: "changed", detail: "the public key in the signature file cannot be read" };
  }
  if (key.asymmetricKeyType !== "ed25519") return { state: "changed", detail: "the key is not an Ed25519 key" };
  const signer = fingerprint(key);
  const signature = Buffer.from(content.signature, "base64");
  const plain =
    signature.toString("base64") === content.signature &&
    key.export({ type: "spki", format: "der" }).toString("base64") === content.publicKey;
  if (!plain || content.note !== NOTE || content.algorithm !== "Ed25519") {
    return { state: "changed", detail: "the signature file was changed" };
  }
  if (!verify(null, bytes, key, signature)) {
    return { state: "changed", detail: `this is not the file that the key ${signer} signed` };
  }
  if (content.sha256 !== createHash("sha256").update(bytes).digest("hex")) {
    return { state: "changed", detail: "the SHA-256 in the signature file is not that of the file" };
  }
  if (trusted === null) {
    return {
      state: "not checked",
      detail: `signed with the key ${signer}; give the shop's public key with --key to see whether it is the shop's`,
    };
  }
  return trusted.equals(key)
    ? { state: "holds", detail: `signed with the given key ${signer}` }
    : {
        state: "changed",
        detail: `signed with the key ${signer}, which is not the given one (${fingerprint(trusted)})`,
      };
}

/**
 * The shop's public key, or the public half of its private one.
 *
 * @throws InputError where the file holds no Ed25519 key in PEM.
 */
export async function readPublicKey(path: string): Promise<KeyObject> {
  const text = await readTextFile(path, "the public key");
  try {
    const key = createPublicKey(text);
    if (key.asymmetricKeyType === "ed25519") return key;
  } catch {}
  throw new InputError({
    file: path,
    problem: "this is not an Ed25519 public key in PEM",
    remedy: "make it from the shop's key with: openssl pkey -in shop-key.pem -pubout -out shop-key.pub.pem",
  });
}

/** Short form of a key that people can compare: the beginning of the SHA-256 of its public half. */
function fingerprint(key: KeyObject): string {
  const hex = createHash("sha256")
    .update(key.export({ type: "spki", format: "der" }))
    .digest("hex");
  return hex.slice(0, 16).replace(/(.{4})(?=.)/g, "$1-");
}

function parsed(text: string): SignatureFile | null {
  try {
    const content = JSON.parse(text) as SignatureFile;
    const texts = [content.sha256, content.publicKey, content.signature];
    return content.schema === SIGNATURE_SCHEMA_NAME && texts.every((one) => typeof one === "string") ? content : null;
  } catch {
    return null;
  }
}
