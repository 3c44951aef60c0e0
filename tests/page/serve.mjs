// A plain server of one folder, below a path of its own so that an absolute path would be noticed.
import { createReadStream, statSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, normalize } from "node:path";

const KINDS = {
  ".css": "text/css",
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript",
  ".svg": "image/svg+xml",
  ".wasm": "application/wasm",
  ".webmanifest": "application/manifest+json",
};
const BELOW = "/a/class/";

export async function serve(folder) {
  const state = { answers: true };
  const server = createServer((request, response) => {
    const { pathname } = new URL(request.url, "http://localhost");
    const path = normalize(pathname.slice(BELOW.length) || "index.html");
    const file = join(folder, path);
    let known = null;
    try {
      known = state.answers && pathname.startsWith(BELOW) && !path.startsWith("..") && statSync(file);
    } catch {
      // not there
    }
    if (!known || !known.isFile()) {
      response.writeHead(state.answers ? 404 : 503).end();
      return;
    }
    response.writeHead(200, {
      "content-type": KINDS[extname(file)] ?? "application/octet-stream",
      "content-length": known.size,
    });
    createReadStream(file).pipe(response);
  });
  await new Promise((ready) => server.listen(0, "127.0.0.1", ready));
  const origin = `http://127.0.0.1:${server.address().port}`;
  return Object.assign(state, { origin, url: origin + BELOW, close: () => server.close() });
}
