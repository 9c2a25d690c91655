"""Reading what the pictures show. The caller has fetched the place or thing through its permission."""
