"""Long tables on paper, tagged cell by cell, on pages whose frame WeasyPrint sets.

A cell costs a setter of HTML half a millisecond and more, whatever holds it; here a twentieth of that
(`python -m tests.bench prints lists`). What stands in long lists is short, and the face has one width, so
nothing needs to be measured: `blocks` say what stands on a page, `ink` draws it, `tree` tells readers what it
is, and `filling` puts it into the places that a template leaves.
"""
