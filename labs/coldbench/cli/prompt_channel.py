"""The channel between page and kernel, without the delay that small messages meet.

A kernel answers a moved slider with two small messages, "busy" and the new picture. By
default the second one waits in the server until the page's computer has acknowledged the first
(Nagle's algorithm, RFC 896, against delayed acknowledgements, RFC 1122 section 4.2.3.2), which
costs about 40 ms at every other key. `coldbench lab` switches that waiting off.
"""

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection


class PromptChannel(ZMQChannelsWebsocketConnection):
    """Jupyter's own channel, sending each message at once."""

    def connect(self):
        """Connect as usual, with the waiting switched off."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()
