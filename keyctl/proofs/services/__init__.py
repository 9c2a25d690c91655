"""Running proofs and accepting what they find."""

from keyctl.proofs.services.accepting import accept_finding, end_acceptance
from keyctl.proofs.services.proving import Place, prove_now, start_proof

__all__ = ["Place", "accept_finding", "end_acceptance", "prove_now", "start_proof"]
