import { z } from "zod";
import { profileSchema } from "./profile-schema.js";

/** The JSON Schema (draft 2020-12) of the profile, as published in `busdip-profile-1.schema.json`. */
export function profileJsonSchema(): Record<string, unknown> {
  const { $schema, ...rest } = z.toJSONSchema(profileSchema, { io: "input", target: "draft-2020-12" });
  return { $schema, $id: "urn:busdip:busdip-profile/1", ...rest };
}
