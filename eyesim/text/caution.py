"""The caution that stands on everything that anybody sees."""

CAUTION = (
    "For teaching with practice eyes. This is no medical device: never plan care with it, and defer to local "
    "protocols, device instructions and the supervising surgeon."
)
