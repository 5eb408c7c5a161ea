import { execFileSync } from "node:child_process";
import { cpSync, mkdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { afterAll, describe, expect, it } from "vitest";
import { commitOf } from "../../src/cli/source-commit.js";
import { folderWith, runBusdip } from "./run-busdip.js";

const root = fileURLToPath(new URL("../../", import.meta.url));
const { version } = JSON.parse(readFileSync(join(root, "package.json"), "utf8"));
const folder = folderWith();
afterAll(() => folder.remove());

describe("busdip --version", () => {
  it("prints version, commit and judging program in one line", () => {
    const { status, stdout, stderr } = runBusdip(["--version"]);
    expect(stdout).toMatch(
      /^\d+\.\d+\.\d+, (commit [0-9a-f]{12}( with changes)?|commit not known), judgement [0-9a-f]{8}\n$/,
    );
    expect(stdout.startsWith(`${version}, `)).toBe(true);
    expect([status, stderr]).toEqual([0, ""]);
  });

  it("of a package laid elsewhere names the commit of its build, and none once its judgement is another", () => {
    const home = join(folder.path, "package");
    mkdirSync(home);
    cpSync(join(root, "dist"), join(home, "dist"), {
      recursive: true,
      filter: (path) => !path.includes(join("dist", "page")),
    });
    cpSync(join(root, "package.json"), join(home, "package.json"));
    symlinkSync(join(root, "node_modules"), join(home, "node_modules"));
    const stamp = join(home, "dist/commit.json");
    const told = () =>
      execFileSync(process.execPath, [join(home, "dist/cli/main.js"), "--version"], { encoding: "utf8" });
    const judgement = () =>
      execFileSync(
        process.execPath,
        ["-e", `import("${home}/dist/cli/software-version.js").then((v) => console.log(v.judgementSha256()))`],
        { encoding: "utf8" },
      ).trim();
    writeFileSync(stamp, JSON.stringify({ commit: "1234567890abcdef".repeat(3).slice(0, 40), judgement: judgement() }));
    expect(told()).toMatch(/, commit 1234567890ab, /);
    writeFileSync(join(home, "dist/core/another.js"), "export const other = 1;\n");
    expect(told()).toMatch(/, commit not known, /);
    rmSync(stamp);
    expect(told()).toMatch(/, commit not known, /);
  });
});

describe("commitOf()", () => {
  const commit = "0123456789abcdef0123456789abcdef01234567";
  const clone = (name: string, files: Readonly<Record<string, string>>): string => {
    const home = join(folder.path, name);
    for (const [path, text] of Object.entries(files)) {
      mkdirSync(join(home, path, ".."), { recursive: true });
      writeFileSync(join(home, path), text);
    }
    return home;
  };

  it("agrees with git in this clone", () => {
    let told: string | null = null;
    try {
      told = execFileSync("git", ["rev-parse", "HEAD"], { cwd: root, encoding: "utf8", stdio: "pipe" }).trim();
    } catch {
      // Laid out without its history, or on a machine without git.
    }
    if (told !== null) expect(commitOf(root)).toBe(told);
    else expect(commitOf(root) ?? commit).toMatch(/^[0-9a-f]{40}$/);
  });

  it("reads a branch, a packed branch, a detached head and a worktree without the program git", () => {
    expect(
      commitOf(clone("branch", { ".git/HEAD": "ref: refs/heads/main\n", ".git/refs/heads/main": `${commit}\n` })),
    ).toBe(commit);
    expect(
      commitOf(
        clone("packed", {
          ".git/HEAD": "ref: refs/heads/main\n",
          ".git/packed-refs": `# pack-refs\n${commit} refs/heads/main\n`,
        }),
      ),
    ).toBe(commit);
    expect(commitOf(clone("detached", { ".git/HEAD": `${commit}\n` }))).toBe(commit);
    const git = join(folder.path, "shared");
    clone("shared", {
      "refs/heads/side": `${commit}\n`,
      "worktrees/side/HEAD": "ref: refs/heads/side\n",
      "worktrees/side/commondir": "../..\n",
    });
    expect(commitOf(clone("worktree", { ".git": `gitdir: ${join(git, "worktrees/side")}\n` }))).toBe(commit);
  });

  it("is null outside a clone, and where the head is no commit", () => {
    expect(commitOf(clone("none", { "a.txt": "" }))).toBeNull();
    expect(commitOf(clone("new", { ".git/HEAD": "ref: refs/heads/main\n" }))).toBeNull();
    expect(commitOf(clone("harmed", { ".git/HEAD": "gibberish\n" }))).toBeNull();
  });
});
