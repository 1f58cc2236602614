"""Bath and ware of a simulated round, and the two jumps that the film makes as a spray begins and ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.physics.thermal import mixed_c
from optimizer.physics.two_nodes import TwoNodes, TwoNodesRun
from optimizer.planner.corner_arrays import Corners


@dataclass
class Bath:
    """Bath, and ware with the film on it, while a round runs; moved on from phase to phase.

    ``wet_film_j_per_k`` is the film that a spray leaves, ``film_j_per_k`` what of it hangs on the ware now;
    ``water_j_per_k`` is what was let in, and ``j_per_k`` has tank and carry-over as well.
    """

    corners: Corners
    wet_film_j_per_k: Array
    water_j_per_k: Array
    j_per_k: Array
    film_j_per_k: Array
    bath_c: Array
    ware_c: Array

    def spray_begins(self) -> None:
        """Mix the film with the bath."""
        self.bath_c = mixed_c(self.bath_c, self.j_per_k, self.ware_c, self.film_j_per_k)
        self.j_per_k = self.j_per_k + self.film_j_per_k
        self.film_j_per_k = np.zeros_like(self.film_j_per_k)

    def spray_ends(self) -> None:
        """Leave a film of bath on the ware."""
        film_j_per_k = self.wet_film_j_per_k
        self.ware_c = mixed_c(self.ware_c, self.corners.ware_j_per_k, self.bath_c, film_j_per_k)
        self.j_per_k, self.film_j_per_k = self.j_per_k - film_j_per_k, film_j_per_k

    def course(self, power_w: Array | float, *, spraying: bool) -> TwoNodesRun:
        """How bath and ware go on from here with so much heat into the bath [W]."""
        corners = self.corners
        exchange = corners.exchange_spraying_w_per_k if spraying else corners.exchange_still_w_per_k
        loss = corners.loss_spraying_w_per_k if spraying else corners.loss_still_w_per_k
        ware_j_per_k = corners.ware_j_per_k + self.film_j_per_k
        nodes = TwoNodes(self.j_per_k, ware_j_per_k, exchange, loss, power_w, corners.room_c)
        return nodes.run(self.bath_c, self.ware_c)
