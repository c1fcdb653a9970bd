// Runs a program compiled to wasm32-wasip1: node wasi.mjs PROGRAM.wasm ARGUMENTS…
import { readFile } from "node:fs/promises";
import { WASI } from "node:wasi";

const [program, ...args] = process.argv.slice(2);
const wasi = new WASI({ version: "preview1", args: ["overwire", ...args], env: {}, returnOnExit: true });
const module = await WebAssembly.compile(await readFile(program));
const instance = await WebAssembly.instantiate(module, { wasi_snapshot_preview1: wasi.wasiImport });
process.exitCode = wasi.start(instance);
