"""Changes of pictures that do not change where the player faces."""

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional


def augmented(pictures: Tensor, rng: np.random.Generator) -> Tensor:
    """Change pictures (batch, 3, 256, 256) in what does not change where the player faces."""
    pictures = _covered(_recoloured(_shaded(_softened(pictures, rng))))
    noise = torch.randn_like(pictures) * uniform(pictures, 0.0, 0.06, 1, 1, 1)
    return (pictures + noise).clamp(0.0, 1.0)


def _softened(pictures: Tensor, rng: np.random.Generator) -> Tensor:
    """Blur some pictures, along a line or all round, and take the resolution of others."""
    deviation = rng.uniform(0.5, 2.2)
    places = torch.arange(-5, 6, device=pictures.device)
    kernel = torch.exp(-0.5 * (places / deviation) ** 2)
    kernel = (kernel / kernel.sum()).expand(3, 1, 1, 11)
    across = functional.conv2d(pictures, kernel, padding=(0, 5), groups=3)
    blurred = functional.conv2d(across, kernel.transpose(2, 3), padding=(5, 0), groups=3)
    size = int(rng.integers(56, 200))
    coarse = functional.interpolate(pictures, (size, size), mode="area")
    coarse = functional.interpolate(coarse, pictures.shape[2:], mode="bilinear")
    pictures = torch.where(chosen(pictures, 0.2), blurred, pictures)
    pictures = torch.where(chosen(pictures, 0.08), across, pictures)
    return torch.where(chosen(pictures, 0.25), coarse, pictures)


def _recoloured(pictures: Tensor) -> Tensor:
    """Change brightness, contrast, white balance, hue and gamma; take the colour of some."""
    gains = torch.exp(uniform(pictures, -0.45, 0.45, 1, 1, 1)) * uniform(
        pictures, 0.8, 1.2, 3, 1, 1
    )
    middle = pictures.mean(dim=(1, 2, 3), keepdim=True)
    contrast = uniform(pictures, 0.6, 1.4, 1, 1, 1)
    changed = ((pictures - middle) * contrast + middle) * gains
    # Mixed channels turn clothes, floors and skin to colours that were never rendered.
    mix = torch.eye(3, device=pictures.device) + 0.35 * torch.randn(
        len(pictures), 3, 3, device=pictures.device
    )
    mix = mix / mix.sum(dim=2, keepdim=True).abs().clamp(min=0.5)
    mixed = torch.einsum("nij,njhw->nihw", mix, changed)
    changed = torch.where(chosen(pictures, 0.4), mixed, changed)
    changed = changed.clamp(1e-3, 1.0) ** torch.exp(uniform(pictures, -0.4, 0.4, 1, 1, 1))
    grey = changed.mean(dim=1, keepdim=True).expand_as(changed)
    return torch.where(chosen(pictures, 0.12), grey, changed)


def _covered(pictures: Tensor) -> Tensor:
    """Cover a rectangle of some pictures with one colour or a piece of another picture."""
    places = (torch.arange(pictures.shape[2], device=pictures.device) + 0.5) / pictures.shape[2]
    inside = [
        (places - uniform(pictures, 0, 1, 1)).abs() < uniform(pictures, 0.04, 0.16, 1)
        for _ in range(2)
    ]
    cover = inside[0][:, None, :, None] & inside[1][:, None, None, :]
    filling = torch.where(
        chosen(pictures, 0.5), uniform(pictures, 0, 1, 3, 1, 1), pictures.roll(1, 0).roll(96, 3)
    )
    return torch.where(cover & chosen(pictures, 0.35), filling, pictures)


def _shaded(pictures: Tensor) -> Tensor:
    """Let light and colour vary over some pictures, as other halls and other cameras do."""
    field = torch.randn(len(pictures), 3, 6, 6, device=pictures.device)
    field = functional.interpolate(field, pictures.shape[2:], mode="bicubic", align_corners=False)
    return torch.where(
        chosen(pictures, 0.4),
        pictures * torch.exp(uniform(pictures, 0, 0.3, 1, 1, 1) * field),
        pictures,
    )


def uniform(like: Tensor, low: float, high: float, *shape: int) -> Tensor:
    return torch.empty((len(like), *shape), device=like.device).uniform_(low, high)


def chosen(like: Tensor, share: float) -> Tensor:
    """(batch, 1, 1, 1) true for about a share of the pictures."""
    return uniform(like, 0, 1, 1, 1, 1) < share
