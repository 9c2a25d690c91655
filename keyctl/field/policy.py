"""What the field app alone may do beyond the policy of every other page."""

from csp.decorators import csp_update

from keyctl.lib.headers import PERMISSIONS, permitting

# The reader of codes is a WebAssembly machine from our own host; nothing else may turn bytes into a program.
allows_the_reader = csp_update({"script-src": "'wasm-unsafe-eval'"})

# The camera reads codes and takes photos of doors: on this page, and only after the person allowed it.
ALLOWS_THE_CAMERA = {PERMISSIONS: permitting("camera")}
