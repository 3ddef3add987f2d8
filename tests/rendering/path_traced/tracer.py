"""Traces the rays: `PYTHON -m tests.rendering.path_traced.tracer FOLDER`, by a Python that has bpy.

Reads each scene of the folder that has no pictures yet (`NAME.npz`, from `scenes.write_scene`) and
writes `NAME-0.png` and so on, one a moment. Needs `bpy` and NumPy alone; with several processes on
one folder, `--share 0/2` and `1/2` give each its own scenes.
"""

import argparse
import json
from pathlib import Path

import bpy
import numpy as np
from mathutils import Matrix, Vector

from tests.rendering.path_traced.tracing import picture_path

SAMPLES = 8

# How often a pattern repeats along each axis, times what its period says.
STRETCH = {"stripes": (0, 0, 1), "checks": (1, 1, 1), "clouds": (1, 1, 1), "grain": (1, 0.08, 1)}


def main() -> None:
    """Render what is missing."""
    parser = argparse.ArgumentParser(prog="python -m tests.rendering.path_traced.tracer")
    parser.add_argument("--threads", type=int, default=1)
    parser.add_argument("--share", default="0/1", help="which of how many processes this is")
    parser.add_argument("folder", type=Path)
    arguments = parser.parse_args()
    number, count = (int(part) for part in arguments.share.split("/"))
    for path in sorted(arguments.folder.glob("*[0-9].npz"))[number::count]:
        if not picture_path(arguments.folder, int(path.stem), 0).exists():
            render(path, arguments.threads)


def render(path: Path, threads: int) -> None:
    """Render all moments of a scene; the first picture comes last, it says that all are there."""
    with np.load(path) as data:
        arrays = {name: data[name] for name in data.files}
    header = json.loads(str(arrays.pop("header")))
    bpy.ops.wm.read_factory_settings(use_empty=True)
    scene = bpy.context.scene
    _settle(scene, header, threads)
    meshes = [
        _add_mesh(scene, arrays[f"vertices{k}"], arrays[f"triangles{k}"], surface)
        for k, surface in enumerate(header["models"])
    ]
    for lamp in header["lamps"]:
        _add_lamp(scene, lamp)
    for moment in reversed(range(len(header["cameras"]))):
        for k, mesh in enumerate(meshes):
            vertices = arrays[f"vertices{k}"]
            if len(vertices) > 1:
                mesh.vertices.foreach_set("co", np.ascontiguousarray(vertices[moment]).ravel())
                mesh.update()
        _place_camera(scene, header["cameras"][moment])
        scene.cycles.seed = moment
        scene.render.filepath = str(picture_path(path.parent, int(path.stem), moment))
        bpy.ops.render.render(write_still=True)


def _settle(scene, header, threads: int) -> None:
    """How rays are traced and pictures developed."""
    scene.render.engine = "CYCLES"
    cycles = scene.cycles
    cycles.device, cycles.samples, cycles.use_adaptive_sampling = "CPU", SAMPLES, False
    cycles.use_denoising, cycles.denoiser = True, "OPENIMAGEDENOISE"
    cycles.denoising_prefilter = "FAST"
    cycles.max_bounces, cycles.diffuse_bounces, cycles.glossy_bounces = 4, 2, 2
    cycles.transparent_max_bounces = 6
    scene.render.threads_mode, scene.render.threads = "FIXED", threads
    scene.render.image_settings.file_format = "PNG"
    scene.render.image_settings.color_mode = "RGB"
    scene.render.image_settings.compression = 30
    scene.view_settings.view_transform = header["look"]
    scene.view_settings.exposure = header["exposure"]
    world = bpy.data.worlds.new("sky")
    scene.world = world
    world.use_nodes = True
    world.node_tree.nodes["Background"].inputs[0].default_value = (*header["sky"], 1.0)
    scene.collection.objects.link(bpy.data.objects.new("camera", bpy.data.cameras.new("camera")))
    scene.camera = scene.objects["camera"]


def _add_mesh(scene, vertices, triangles, surface):
    """Add a mesh with its surface."""
    mesh = bpy.data.meshes.new("mesh")
    mesh.from_pydata(vertices[0].tolist(), [], triangles.tolist())
    if surface["smooth"]:
        mesh.polygons.foreach_set("use_smooth", np.ones(len(triangles), bool))
    # Patterns hang on the mesh in its first moment.
    rest = mesh.attributes.new("rest", "FLOAT_VECTOR", "POINT")
    rest.data.foreach_set("vector", np.ascontiguousarray(vertices[0]).ravel())
    mesh.materials.append(_material(surface))
    mesh.update()
    scene.collection.objects.link(bpy.data.objects.new("object", mesh))
    return mesh


def _material(surface):
    """A material for a surface."""
    material = bpy.data.materials.new("surface")
    material.use_nodes = True
    nodes, links = material.node_tree.nodes, material.node_tree.links
    shader = nodes["Principled BSDF"]
    shader.inputs["Base Color"].default_value = (*surface["colour"], 1.0)
    shader.inputs["Roughness"].default_value = surface["roughness"]
    shader.inputs["Subsurface Weight"].default_value = surface["flesh"]
    shader.inputs["Subsurface Scale"].default_value = 0.01
    shader.inputs["Alpha"].default_value = 1.0 - surface["through"]
    if surface["pattern"] == "plain":
        return material
    place = nodes.new("ShaderNodeAttribute")
    place.attribute_name = "rest"
    scale = nodes.new("ShaderNodeVectorMath")
    scale.operation = "MULTIPLY"
    links.new(place.outputs["Vector"], scale.inputs[0])
    stretch = {
        "stripes": (0, 0, 1),
        "checks": (1, 1, 1),
        "clouds": (1, 1, 1),
        "grain": (1, 0.08, 1),
    }
    period = surface["period"]
    scale.inputs[1].default_value = [s / period for s in stretch[surface["pattern"]]]
    texture = nodes.new(
        "ShaderNodeTexNoise"
        if surface["pattern"] in ("clouds", "grain")
        else "ShaderNodeTexChecker"
    )
    texture.inputs["Scale"].default_value = 1.0
    links.new(scale.outputs[0], texture.inputs["Vector"])
    ramp = nodes.new("ShaderNodeValToRGB")
    ramp.color_ramp.elements[0].position, ramp.color_ramp.elements[1].position = 0.45, 0.55
    ramp.color_ramp.elements[0].color = (*surface["colour"], 1.0)
    ramp.color_ramp.elements[1].color = (*surface["second"], 1.0)
    links.new(texture.outputs["Fac"], ramp.inputs[0])
    links.new(ramp.outputs[0], shader.inputs["Base Color"])
    return material


def _add_lamp(scene, lamp) -> None:
    """Add an area lamp or the sun."""
    light = bpy.data.lights.new("lamp", "AREA" if lamp["kind"] == "area" else "SUN")
    light.energy, light.color = lamp["power"], lamp["colour"]
    if lamp["kind"] == "area":
        light.shape, light.size, light.size_y = "RECTANGLE", *lamp["size"]
    else:
        light.angle = lamp["size"][0]
    made = bpy.data.objects.new("lamp", light)
    made.location = lamp["place"]
    made.rotation_euler = Vector(lamp["direction"]).to_track_quat("-Z", "Y").to_euler()
    scene.collection.objects.link(made)


def _place_camera(scene, camera) -> None:
    """Put the camera where it must be; its picture is a square of `side` pixels."""
    side, lens = camera["side"], scene.camera.data
    scene.render.resolution_x = scene.render.resolution_y = side
    lens.sensor_fit, lens.sensor_width = "HORIZONTAL", 36.0
    lens.lens = camera["focal"] * 36.0 / side
    lens.shift_x = 0.5 - camera["middle"][0] / side
    lens.shift_y = camera["middle"][1] / side - 0.5
    lens.clip_start, lens.clip_end = 0.05, 200.0
    # Blender's cameras look along -z, with y up.
    turn = np.array(camera["rotation"]).T @ np.diag([1.0, -1.0, -1.0])
    place = np.eye(4)
    place[:3, :3], place[:3, 3] = turn, camera["centre"]
    scene.camera.matrix_world = Matrix(place.tolist())


if __name__ == "__main__":
    main()
