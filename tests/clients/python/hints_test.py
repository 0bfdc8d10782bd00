"""Every public name of the package has a docstring, and every public function its type hints."""
import importlib
import inspect
import pkgutil
import unittest

import gaitshelf


def modules():
    """Yields our own modules; the messages of v1 and rpc are made by protoc."""
    yield gaitshelf
    for info in pkgutil.walk_packages(gaitshelf.__path__, "gaitshelf."):
        if not info.name.startswith(("gaitshelf.v1", "gaitshelf.rpc")):
            yield importlib.import_module(info.name)


def members(holder):
    """Yields public functions, classes and properties that the holder defines itself."""
    for name, value in vars(holder).items():
        value = value.func if hasattr(value, "func") else value  # cached_property
        value = value.fget if isinstance(value, property) else value
        own = getattr(value, "__module__", None) == (
            holder.__name__ if inspect.ismodule(holder) else holder.__module__)
        if own and not name.startswith("_") and (inspect.isclass(value) or
                                                 inspect.isfunction(value)):
            yield name, value


class HintsTest(unittest.TestCase):
    def check(self, where, value):
        self.assertTrue(inspect.getdoc(value), f"{where} has no docstring")
        if inspect.isclass(value):
            for name, member in members(value):
                self.check(f"{where}.{name}", member)
            return
        signature = inspect.signature(value)
        self.assertIsNot(signature.return_annotation, inspect.Signature.empty,
                         f"{where} does not say what it returns")
        for name, parameter in signature.parameters.items():
            if name not in ("self", "args", "kwargs"):
                self.assertIsNot(parameter.annotation, inspect.Parameter.empty,
                                 f"{where}: {name} has no type")

    def test_every_public_name_is_described_and_typed(self):
        count = 0
        for module in modules():
            self.assertTrue(inspect.getdoc(module), f"{module.__name__} has no docstring")
            for name, value in members(module):
                count += 1
                with self.subTest(name=f"{module.__name__}.{name}"):
                    self.check(f"{module.__name__}.{name}", value)
        self.assertGreater(count, 40)


if __name__ == "__main__":
    unittest.main(verbosity=2)
