"""What the trade commonly weighs for such limbs, feet, uses and ages. Pure.

Never an order and never a diagnosis: each names its reason, its source or 'common
practice, no source', and what speaks against it.
"""
