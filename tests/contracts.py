"""A contract for the walls of the house: what is inside a room is the room's own."""

from __future__ import annotations

import grimp
from importlinter import Contract, ContractCheck, fields, output


class DoorsContract(Contract):
    """A module may be imported from outside its package only where that is a corridor.

    Corridors are packages that hold rooms. A room is what lies beside a corridor's
    door: a module, or a package whose own door is its `__init__.py`.
    """

    type_name = "doors"

    corridors = fields.SetField(subfield=fields.StringField())

    def check(self, graph: grimp.ImportGraph, verbose: bool) -> ContractCheck:
        """Find each import that reaches into a room past its door."""
        corridors = set(self.corridors)  # type: ignore[call-overload]
        unknown = sorted(corridors - graph.modules)
        if unknown:
            raise ValueError(f"There is no package {', '.join(unknown)}.")
        inside = sorted(
            (importer, imported)
            for imported in graph.modules
            if imported.startswith("orchard.")
            for importer in graph.find_modules_that_directly_import(imported)
            if self._room_of(imported, corridors) != imported
            and not self._stands_in(importer, imported.rpartition(".")[0])
            and ".migrations." not in importer  # written by Django
        )
        return ContractCheck(kept=not inside, metadata={"inside": inside})

    def render_broken_contract(self, check: ContractCheck) -> None:
        """Name each such import, and the door to use."""
        for importer, imported in check.metadata["inside"]:
            door = imported.rpartition(".")[0]
            output.print_error(f"{importer} imports {imported}: go through {door}.")

    @staticmethod
    def _room_of(module: str, corridors: set[str]) -> str:
        """Return the room a module belongs to: the first part below its corridors."""
        parts = module.split(".")
        for end in range(1, len(parts)):
            if ".".join(parts[:end]) not in corridors:
                return ".".join(parts[:end])
        return module

    @staticmethod
    def _stands_in(module: str, package: str) -> bool:
        return module == package or module.startswith(f"{package}.")
