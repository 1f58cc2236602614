// Runs wash_main.py in a real MicroPython on a board that is not there. Arguments: the folder of the WebAssembly
// build, the folder of the modules, the script that turns the loop (its answer is printed).

import { readFileSync, readdirSync } from "node:fs";

const [build, folder, script] = process.argv.slice(2);
const { loadMicroPython } = await import(`${build}/micropython.mjs`);
const micropython = await loadMicroPython({ heapsize: 4 * 1024 * 1024 });
for (const name of readdirSync(folder)) {
    micropython.FS.writeFile(`/${name}`, readFileSync(`${folder}/${name}`, "utf8"));
}
micropython.runPython(`import sys\nsys.path.append("/")`);
micropython.runPython(readFileSync(script, "utf8"));
