"""What the field app alone may do beyond the policy of every other page."""

from csp.decorators import csp_update

# The reader of codes is a WebAssembly machine from our own host; nothing else may turn bytes into a program.
allows_the_reader = csp_update({"script-src": "'wasm-unsafe-eval'"})
