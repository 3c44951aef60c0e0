// Sizes of the files of a folder, as they are and as a server sends them: gzip 9, brotli 11.
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { brotliCompressSync, gzipSync } from "node:zlib";

const folder = process.argv[2];
const sum = [0, 0, 0];
const row = (name, sizes) =>
  console.log(name.padEnd(24) + sizes.map((n) => n.toLocaleString("en").padStart(12)).join(""));
console.log(`${"".padEnd(24)}${["bytes", "gzip", "brotli"].map((w) => w.padStart(12)).join("")}`);
for (const name of readdirSync(folder).sort()) {
  const bytes = readFileSync(join(folder, name));
  const sizes = [bytes.length, gzipSync(bytes, { level: 9 }).length, brotliCompressSync(bytes).length];
  sizes.forEach((size, k) => (sum[k] += size));
  row(name, sizes);
}
row("all", sum);
