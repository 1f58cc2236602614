// Runs controller_harness.py in a real MicroPython (its WebAssembly build) and carries bytes between it and the
// standard streams, as controller_harness.c does: arguments are the folder of that build, the folder of
// wash_timing.py and wash_controller.py, the harness, and the hooks of each copy.

import { readFileSync, readSync, writeSync } from "node:fs";

const [build, folder, harness, ...hooks] = process.argv.slice(2);
const { loadMicroPython } = await import(`${build}/micropython.mjs`);
const micropython = await loadMicroPython({ heapsize: 16 * 1024 * 1024 });
const IN_WORDS = 3;
const OUT_WORDS = 6;

for (const name of ["wash_timing.py", "wash_controller.py"]) {
    micropython.FS.writeFile(`/${name}`, readFileSync(`${folder}/${name}`, "utf8"));
}
micropython.runPython(`import sys\nsys.path.append("/")\nHOOKS = [${hooks.join(", ")}]`);
micropython.runPython(readFileSync(harness, "utf8"));
const { getValue, setValue } = micropython._module;
const inAt = micropython.globals.get("IN_AT");
const outAt = micropython.globals.get("OUT_AT");
const step = micropython.globals.get("step");

const inWords = 1 + IN_WORDS * hooks.length;
const outWords = OUT_WORDS * hooks.length;
const told = new Int32Array(inWords);
const did = new Int32Array(outWords);

// All bytes of one step; false at the end of the input
function read(bytes) {
    for (let at = 0; at < bytes.length; ) {
        let count = 0;
        try {
            count = readSync(0, bytes, at, bytes.length - at, null);
        } catch (error) {
            if (error.code !== "EAGAIN") {
                throw error;
            }
            continue;
        }
        if (count === 0) {
            return false;
        }
        at += count;
    }
    return true;
}

function write(bytes) {
    for (let at = 0; at < bytes.length; ) {
        at += writeSync(1, bytes, at, bytes.length - at);
    }
}

while (read(new Uint8Array(told.buffer))) {
    for (let word = 0; word < inWords; word++) {
        setValue(inAt + 4 * word, told[word], "i32");
    }
    step();
    for (let word = 0; word < outWords; word++) {
        did[word] = getValue(outAt + 4 * word, "i32");
    }
    write(new Uint8Array(did.buffer));
}
